// The curve against JCGM 101:2008 (propagation of distributions): flat in the inputs, by quasi-random numbers. It must
// agree where the displacement is known to 5 %, and is known to be too narrow for smaller pieces.

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

#include "bilancetta/density.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;

namespace
{

// The k-th radical inverse of i (Halton sequence).
double halton(int i, int base)
{
  double f = 1.0;
  double r = 0.0;
  for (; i > 0; i /= base) {
    f /= base;
    r += f * (i % base);
  }
  return r;
}

double inverse_normal(double p)
{
  double low = -8.0;
  double high = 8.0;
  for (int k = 0; k < 60; ++k) {
    const double middle = 0.5 * (low + high);
    (0.5 * std::erfc(-middle * M_SQRT1_2) < p ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

struct Interval {
  double low, median, high;
};

// Each displayed number: normal noise, rounding and linearity about it; bubbles, thread and water as in
// docs/uncertainty.md.
Interval propagated(const Weighing& w)
{
  constexpr int draws = 40000;
  const Scale& s = w.scale;
  const double air = air_density_g_cm3({});
  const LiquidDensity liquid = liquid_density_of(w.surroundings);
  std::vector<double> density;
  for (int i = 1; i <= draws; ++i) {
    const int primes[] = {2, 3, 5, 7, 11, 13, 17, 19, 23, 29};
    double u[10];
    for (int k = 0; k < 10; ++k) {
      u[k] = std::clamp(halton(i, primes[k]), 1e-9, 1.0 - 1e-9);
    }
    const auto box = [](double p, double half) { return (2.0 * p - 1.0) * half; };
    const double dry = w.readings.dry_g[0] + s.repeatability_g * inverse_normal(u[0]) +
                       box(u[1], 0.5 * s.readability_g) + box(u[2], s.linearity_g);
    const double rise = w.readings.rise_g[0] + s.repeatability_g * inverse_normal(u[3]) +
                        box(u[4], 0.5 * s.readability_g) + box(u[5], s.linearity_g) + box(u[6], 0.0005) +
                        u[7] * w.surroundings.evaporation_g;
    const double water = liquid.g_cm3 + liquid.temperature_u_g_cm3 * inverse_normal(u[8]);
    density.push_back(air + (water - air) * dry / rise);
  }
  std::sort(density.begin(), density.end());
  const auto at = [&](double p) { return density[static_cast<std::size_t>(p * draws)]; };
  return {at(0.025), at(0.5), at(0.975)};
}

Weighing weighing_of(double dry, double rise, ScaleClass scale_class)
{
  Weighing w;
  w.scale = scale_of(scale_class);
  w.surroundings.wetting = Wetting::sealed;
  w.readings.dry_g = {dry};
  w.readings.rise_g = {rise};
  return w;
}

}  // namespace

TEST_CASE("the curve agrees with propagation of distributions where the displacement is known to 5 %",
          "[density][propagation]")
{
  const Weighing cases[] = {
      weighing_of(5.00, 0.48, ScaleClass::pocket),         weighing_of(20.00, 1.91, ScaleClass::pocket),
      weighing_of(1.000, 0.095, ScaleClass::jeweller),     weighing_of(8.123, 0.914, ScaleClass::jeweller),
      weighing_of(0.5000, 0.0475, ScaleClass::laboratory), weighing_of(12.3456, 1.3801, ScaleClass::laboratory)};
  for (const Weighing& w : cases) {
    const Interval theirs = propagated(w);
    const DensitySummary ours = summary_of(density_curve_of(w), w);
    const double width = theirs.high - theirs.low;
    INFO("dry " << w.readings.dry_g[0] << ": " << ours.low << " to " << ours.high << " against " << theirs.low << " to "
                << theirs.high);
    CHECK_THAT(ours.low, WithinAbs(theirs.low, 0.05 * width));
    CHECK_THAT(ours.value, WithinAbs(theirs.median, 0.05 * width));
    CHECK_THAT(ours.high, WithinAbs(theirs.high, 0.05 * width));
  }
}

TEST_CASE("for a small piece the curve is wider than propagation of distributions", "[density][propagation]")
{
  const Weighing w = weighing_of(0.10, 0.01, ScaleClass::pocket);
  const Interval theirs = propagated(w);
  const DensitySummary ours = summary_of(density_curve_of(w), w);
  CHECK(ours.high > std::min(theirs.high, 22.0));
}
