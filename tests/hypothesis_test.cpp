#include "bilancetta/hypothesis.hpp"

#include <ceres/jet.h>
#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <random>
#include <vector>

using namespace bilancetta;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace
{

// A piece of N(0, I).
std::array<double, max_variables> drawn(const Hypothesis& h, std::mt19937& random)
{
  std::normal_distribution<double> normal;
  std::array<double, max_variables> z{};
  std::generate_n(z.begin(), h.variables, [&] { return normal(random); });
  return z;
}

}  // namespace

TEST_CASE("a spread keeps low, typical and high", "[hypothesis]")
{
  // Two-piece normal: median at typical, ends at 2.5 and 97.5 % (z = -+1.96).
  const Tables& tables = built_in_tables();
  const int m = find_material(tables, "sterling");
  const Hypothesis h = solid_hypothesis(tables, m);
  REQUIRE(h.variables == 1);
  const Component& silver = tables.materials[m].components.front();
  REQUIRE(silver.constituent == find_constituent(tables, "Ag"));
  REQUIRE(tables.materials[m].balance != 0);
  for (const auto& [z, wanted] : {std::pair{-1.959963984540054, silver.fraction.low},
                                  {0.0, silver.fraction.typical},
                                  {1.959963984540054, silver.fraction.high}}) {
    CHECK_THAT(fraction_of(h, h.evaluate(&z), silver.constituent), WithinAbs(wanted, 1e-5));
  }
}

// A low end of 0 has no logarithm (docs/method.md, section 4).
TEST_CASE("a low end of 0 is read as a tenth of the typical value", "[hypothesis]")
{
  const Tables& tables = built_in_tables();
  int ends = 0;
  for (std::size_t m = 0; m < tables.materials.size(); ++m) {
    const Material& material = tables.materials[m];
    const Hypothesis h = solid_hypothesis(tables, static_cast<int>(m));
    for (std::size_t c = 0; c < material.components.size(); ++c) {
      const Range& range = material.components[c].fraction;
      if (static_cast<int>(c) != material.balance && range.low == 0.0 && range.high > 0.0) {
        double z[max_variables] = {};
        z[h.outer.log_fraction[c].variable] = -1.959963984540054;
        INFO(material.key << " " << tables.constituents[material.components[c].constituent].key);
        CHECK_THAT(fraction_of(h, h.evaluate(z), material.components[c].constituent),
                   WithinRel(0.1 * range.typical, 1e-3));
        ++ends;
      }
    }
  }
  CHECK(ends > 5);
}

// Low and high of a measured density are the ends of its 95 % range (tables/README.md): 2.5 % of pieces lie beyond
// each, or 0.8 % where a side that asks for less than half as much variance again goes without (docs/method.md, 4).
TEST_CASE("pieces of a row spread over the range of its measured density", "[hypothesis]")
{
  const Tables& tables = built_in_tables();
  std::mt19937 random(3);
  std::normal_distribution<double> normal;
  constexpr int draws = 20000;
  int rows = 0;
  for (std::size_t m = 0; m < tables.materials.size(); ++m) {
    const Material& material = tables.materials[m];
    if (!material.measured) {
      continue;
    }
    const Hypothesis h = solid_hypothesis(tables, static_cast<int>(m));
    int below = 0;
    int above = 0;
    for (int i = 0; i < draws; ++i) {
      const auto z = drawn(h, random);
      const double density = h.evaluate(z.data()).density * (1.0 + h.scatter * normal(random));
      below += density < material.density.low ? 1 : 0;
      above += density > material.density.high ? 1 : 0;
    }
    INFO(material.key);
    CHECK(below > 0.0065 * draws);
    CHECK(above > 0.0065 * draws);
    ++rows;
  }
  CHECK(rows > 100);
}

// The balance alone gives way: a stated fineness holds whatever the share of the other metals.
TEST_CASE("every fraction but the balance keeps its own range", "[hypothesis]")
{
  const Tables& tables = built_in_tables();
  std::mt19937 random(11);
  constexpr int draws = 20000;
  for (std::size_t m = 0; m < tables.materials.size(); ++m) {
    const Material& material = tables.materials[m];
    const Hypothesis h = solid_hypothesis(tables, static_cast<int>(m));
    std::vector<int> below(material.components.size());
    std::vector<int> above(material.components.size());
    for (int i = 0; i < draws; ++i) {
      const auto z = drawn(h, random);
      std::array<double, max_components> fraction{};
      h.outer.evaluate(z.data(), fraction);
      for (std::size_t c = 0; c < material.components.size(); ++c) {
        below[c] += fraction[c] < material.components[c].fraction.low ? 1 : 0;
        above[c] += fraction[c] > material.components[c].fraction.high ? 1 : 0;
      }
    }
    for (std::size_t c = 0; c < material.components.size(); ++c) {
      const Range& range = material.components[c].fraction;
      if (static_cast<int>(c) != material.balance && range.low > 0.0 && range.high > range.low) {
        INFO(material.key << " " << tables.constituents[material.components[c].constituent].key);
        CHECK_THAT(static_cast<double>(below[c]) / draws, WithinAbs(0.025, 0.01));
        CHECK_THAT(static_cast<double>(above[c]) / draws, WithinAbs(0.025, 0.01));
      }
    }
  }
}

TEST_CASE("fractions sum to one and densities stay between those of the parts", "[hypothesis]")
{
  const Tables& tables = built_in_tables();
  std::mt19937 random(7);
  std::normal_distribution<double> normal(0.0, 2.0);
  for (std::size_t row = 0; row < tables.builds.size(); ++row) {
    const BuildRow& build = tables.builds[row];
    for (const int inner : build.inner) {
      const Hypothesis h = layered_hypothesis(tables, static_cast<int>(row), build.outer.front(), inner, {0.05, {}});
      double z[max_variables] = {};
      for (double& value : z) {
        value = normal(random);
      }
      const Outcome<double> o = h.evaluate(z);
      double total = 0.0;
      for (std::size_t c = 0; c < tables.constituents.size(); ++c) {
        const double fraction = fraction_of(h, o, static_cast<int>(c));
        CHECK(fraction >= 0.0);
        total += fraction;
      }
      CHECK_THAT(total, WithinAbs(1.0, 1e-9));
      std::array<double, max_components> parts{};
      const double a = h.outer.evaluate(z, parts);
      const double b = h.inner.evaluate(z, parts);
      CHECK(o.density >= std::min(a, b) * (1 - 1e-12));
      CHECK(o.density <= std::max(a, b) * (1 + 1e-12));
    }
  }
}

TEST_CASE("a coat's share is 1 - exp(-t A / V)", "[hypothesis]")
{
  // A 10 um coat on a piece of 0.5 cm3 and 5 cm2: 1 - exp(-0.001 x 10) = 0.00995 by volume.
  const Tables& tables = built_in_tables();
  for (std::size_t row = 0; row < tables.builds.size(); ++row) {
    if (tables.builds[row].build != Build::plated) {
      continue;
    }
    Hypothesis h = layered_hypothesis(tables, static_cast<int>(row), tables.builds[row].outer[0],
                                      tables.builds[row].inner[0], {0.5, 5.0});
    h.amount = {std::log(10.0), 0.0, 0.0, -1};
    const double z[max_variables] = {};
    const Outcome<double> o = h.evaluate(z);
    std::array<double, max_components> parts{};
    const double coat = h.outer.evaluate(z, parts);
    const double core = h.inner.evaluate(z, parts);
    const double share = 1.0 - std::exp(-10e-4 * 5.0 / 0.5);
    CHECK_THAT(o.density, WithinRel(share * coat + (1 - share) * core, 1e-12));
    CHECK_THAT(o.outer_mass_share, WithinRel(share * coat / o.density, 1e-12));
    break;
  }
}

TEST_CASE("adding grains of a heavier metal by mass adds volumes", "[hypothesis]")
{
  // Handbook rule (Machinery's Handbook and any text): 1/rho = w1/rho1 + w2/rho2. Ag 10.49, Cu 8.96 at
  // 72/28: 10.01, as the tables of silver alloys print (rounded 10.0 to 10.1).
  const Tables& tables = built_in_tables();
  const Material& eutectic = tables.materials[find_material(tables, "ag-cu-28")];
  CHECK_THAT(ideal_density_g_cm3(eutectic, tables.constituents), WithinAbs(1.0 / (0.72 / 10.49 + 0.28 / 8.96), 0.02));
}

TEST_CASE("automatic derivatives agree with differences", "[hypothesis]")
{
  const Tables& tables = built_in_tables();
  using Jet = ceres::Jet<double, max_variables>;
  for (std::size_t row = 0; row < tables.builds.size(); ++row) {
    const BuildRow& build = tables.builds[row];
    if (build.inner.empty()) {
      continue;
    }
    const Hypothesis h =
        layered_hypothesis(tables, static_cast<int>(row), build.outer.back(), build.inner.front(), {0.2, {}});
    Jet z[max_variables];
    double at[max_variables];
    for (int k = 0; k < max_variables; ++k) {
      at[k] = 0.3 + 0.1 * k;
      z[k] = Jet(at[k], k);
    }
    const Jet density = h.evaluate(z).density;
    for (int k = 0; k < h.variables; ++k) {
      constexpr double step = 1e-5;
      double up[max_variables];
      double down[max_variables];
      std::copy(at, at + max_variables, up);
      std::copy(at, at + max_variables, down);
      up[k] += step;
      down[k] -= step;
      const double difference = (h.evaluate(up).density - h.evaluate(down).density) / (2 * step);
      CHECK_THAT(density.v[k], WithinAbs(difference, 1e-6));
    }
  }
}
