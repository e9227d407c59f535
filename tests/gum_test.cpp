// Published uncertainty budgets (tests/published/gum_cases.csv), worked through here with a
// propagation of the test's own: the reference for how the library propagates.

#include <ceres/jet.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <random>

#include "bilancetta/density.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace
{

struct Input {
  double value = 0.0, standard_uncertainty = 0.0;
  double degrees_of_freedom = 0.0;  // 0: infinite
};

struct Propagated {
  double value = 0.0, standard_uncertainty = 0.0, effective_degrees = 0.0;
  std::vector<double> share{};
};

// JCGM 100:2008, 5.1.2 (law of propagation, independent inputs) and G.4 (Welch-Satterthwaite).
template <int count, typename Model>
Propagated propagate(const Model& model, const std::vector<Input>& inputs)
{
  REQUIRE(inputs.size() == count);
  std::array<ceres::Jet<double, count>, count> x;
  for (int i = 0; i < count; ++i) {
    x[i] = ceres::Jet<double, count>(inputs[i].value, i);
  }
  const ceres::Jet<double, count> y = model(x);
  Propagated p;
  p.value = y.a;
  double fourth = 0.0;
  for (int i = 0; i < count; ++i) {
    const double part = y.v[i] * inputs[i].standard_uncertainty;
    p.share.push_back(part * part);
    fourth += inputs[i].degrees_of_freedom > 0.0 ? part * part * part * part / inputs[i].degrees_of_freedom : 0.0;
  }
  double variance = 0.0;
  for (const double part : p.share) {
    variance += part;
  }
  for (double& part : p.share) {
    part /= variance;
  }
  p.standard_uncertainty = std::sqrt(variance);
  p.effective_degrees = fourth > 0.0 ? variance * variance / fourth : 0.0;
  return p;
}

// JCGM 100:2008, 4.3.7 and 4.3.9.
double standard_of(const std::string& distribution, double spread)
{
  return distribution == "rectangular"  ? spread / std::sqrt(3.0)
         : distribution == "triangular" ? spread / std::sqrt(6.0)
                                        : spread;
}

std::vector<Input> inputs_of(const std::string& wanted)
{
  std::vector<Input> inputs;
  for (const Row& row : published("gum_cases.csv")) {
    if (row.text("case") == wanted && row.text("kind") == "input") {
      inputs.push_back({row.number("value"), standard_of(row.text("distribution"), row.number("spread")),
                        row.number_or("degrees_of_freedom", 0.0)});
    }
  }
  return inputs;
}

double result_of(const std::string& wanted, const std::string& name)
{
  for (const Row& row : published("gum_cases.csv")) {
    if (row.text("case") == wanted && row.text("kind") == "result" && contains(row.text("name"), name)) {
      return row.number("value");
    }
  }
  FAIL("no result " << name << " of " << wanted);
  return 0.0;
}

const auto sum_of_all = [](const auto& x) {
  auto total = x[0];
  for (std::size_t i = 1; i < x.size(); ++i) {
    total += x[i];
  }
  return total;
};

}  // namespace

// GUM, example H.1.
TEST_CASE("the end gauge budget adds up as printed", "[gum]")
{
  const Propagated p = propagate<6>(sum_of_all, inputs_of("end-gauge"));
  CHECK_THAT(p.standard_uncertainty, WithinAbs(result_of("end-gauge", "standard uncertainty"), 0.5));
  CHECK(std::floor(p.effective_degrees) == result_of("end-gauge", "effective degrees"));
  // GUM table G.2: t at 99 % for 16 degrees of freedom is 2.92.
  CHECK_THAT(2.92 * p.standard_uncertainty, WithinAbs(result_of("end-gauge", "expanded 99"), 1.0));
}

// EURACHEM/CITAC Guide CG 4, example A1: rectangular and triangular inputs through a quotient.
TEST_CASE("the cadmium standard budget adds up as printed", "[gum]")
{
  const Propagated p = propagate<5>([](const auto& x) { return 1000.0 * x[0] * x[1] / (x[2] + x[3] + x[4]); },
                                    inputs_of("cadmium-standard"));
  CHECK_THAT(p.value, WithinAbs(result_of("cadmium-standard", "concentration"), 0.05));
  CHECK_THAT(p.standard_uncertainty, WithinAbs(result_of("cadmium-standard", "standard uncertainty"), 0.000001));
}

// EA-4/02, example S2.
TEST_CASE("the 10 kg weight budget adds up as printed, with its shares", "[gum]")
{
  const Propagated p = propagate<5>(sum_of_all, inputs_of("weight-10-kg"));
  CHECK_THAT(p.standard_uncertainty, WithinAbs(result_of("weight-10-kg", "standard uncertainty"), 0.3));
  CHECK_THAT(2.0 * p.standard_uncertainty, WithinAbs(result_of("weight-10-kg", "expanded k=2"), 0.6));
  for (int i = 0; i < 5; ++i) {
    CHECK_THAT(100.0 * p.share[i], WithinAbs(result_of("weight-10-kg", "share " + std::to_string(i + 1)), 0.051));
  }
}

// University of Tartu course on measurement uncertainty.
TEST_CASE("the simple weighing budget adds up as printed", "[gum]")
{
  const Propagated p = propagate<3>(sum_of_all, inputs_of("simple-weighing"));
  CHECK_THAT(p.standard_uncertainty, WithinAbs(result_of("simple-weighing", "standard uncertainty"), 0.000001));
  CHECK(std::floor(p.effective_degrees) == result_of("simple-weighing", "effective degrees"));
}

// JCGM 101:2008, 9.3, recalled from memory (see the catalogue): first order misses what simulation finds.
TEST_CASE("the mass calibration differs from first order as recalled", "[gum]")
{
  const std::string name = "mass-calibration-from-memory";
  const auto model = [](const auto& x) {
    return (x[0] + x[1]) * (1.0 + (x[2] - 1.2) * (1.0 / x[3] - 1.0 / x[4])) - 100000.0;
  };
  const Propagated p = propagate<5>(model, inputs_of(name));
  CHECK_THAT(p.standard_uncertainty, WithinAbs(result_of(name, "first-order"), 0.00005));

  std::mt19937_64 random(7);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> flat(-1.0, 1.0);
  std::vector<double> y(1000000);
  double first = 0.0;
  double second = 0.0;
  for (double& value : y) {
    const std::array<double, 5> x = {100000.0 + 0.050 * normal(random), 1.234 + 0.020 * normal(random),
                                     1.2 + 0.1 * flat(random), 8000.0 + 1000.0 * flat(random),
                                     8000.0 + 50.0 * flat(random)};
    value = model(x);
    first += value;
    second += value * value;
  }
  const double mean = first / 1e6;
  CHECK_THAT(std::sqrt(second / 1e6 - mean * mean), WithinAbs(result_of(name, "Monte Carlo"), 0.0005));
  std::sort(y.begin(), y.end());
  std::size_t shortest = 0;
  for (std::size_t i = 0; i + 950000 < y.size(); ++i) {
    shortest = y[i + 950000] - y[i] < y[shortest + 950000] - y[shortest] ? i : shortest;
  }
  CHECK_THAT(y[shortest], WithinAbs(result_of(name, "shortest 95 % low"), 0.005));
  CHECK_THAT(y[shortest + 950000], WithinAbs(result_of(name, "shortest 95 % high"), 0.005));
}

TEST_CASE("the library's budget is first-order propagation of the density formula", "[gum]")
{
  for (const bool rise : {true, false}) {
    INFO("rise " << rise);
    const Scale scale{.readability_g = 0.001, .repeatability_g = 0.002, .linearity_g = 0.003};
    Weighing w = rise ? rise_weighing(5.0, 0.48, scale) : submerged_weighing(5.0, 4.52, scale);
    w.surroundings.wetting = Wetting::sealed;
    w.surroundings.thread_mm = 0.0;
    w.surroundings.evaporation_g = 0.0;  // its mean would be taken off
    const LiquidDensity liquid = liquid_density_of(w.surroundings);
    const double air = air_density_g_cm3({});
    const double reading_u[] = {0.001 / std::sqrt(12.0), 0.002, 0.003 / std::sqrt(3.0)};
    const auto model = [rise](const auto& x) { return density_from(x[0], rise ? x[1] : x[0] - x[1], x[2], x[3]); };
    const auto uncertainty = [&](double dry_u, double other_u, double liquid_u) {
      return propagate<4>(model, {{5.0, dry_u}, {rise ? 0.48 : 4.52, other_u}, {liquid.g_cm3, liquid_u}, {air, 0.0}})
          .standard_uncertainty;
    };
    CHECK_THAT(budget_line(w, "readability"), WithinRel(uncertainty(reading_u[0], reading_u[0], 0.0), 1e-9));
    CHECK_THAT(budget_line(w, "repeatability"), WithinRel(uncertainty(reading_u[1], reading_u[1], 0.0), 1e-9));
    CHECK_THAT(budget_line(w, "linearity"), WithinRel(uncertainty(reading_u[2], reading_u[2], 0.0), 1e-9));
    CHECK_THAT(budget_line(w, "liquid temperature"),
               WithinRel(uncertainty(0.0, 0.0, liquid.temperature_u_g_cm3), 1e-9));
  }
}

TEST_CASE("a budget's shares sum to one, largest first", "[gum]")
{
  Weighing w = rise_weighing(5.0, 0.48, scale_of(ScaleClass::pocket));
  w.surroundings.tap_water = true;
  for (const Wetting wetting : {Wetting::dunked, Wetting::sealed}) {
    w.surroundings.wetting = wetting;
    const std::vector<BudgetLine> budget = budget_of(w);
    REQUIRE(budget.size() > 3);
    double total = 0.0;
    for (std::size_t i = 0; i < budget.size(); ++i) {
      total += budget[i].share;
      CHECK((i == 0 || budget[i].share <= budget[i - 1].share));
      CHECK(budget[i].standard_uncertainty > 0.0);
    }
    CHECK_THAT(total, WithinAbs(1.0, 1e-12));
  }
}
