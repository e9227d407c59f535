#include "bilancetta/density.hpp"

#include <algorithm>
#include <cmath>

#include "displacement_errors.hpp"
#include "reading_likelihood.hpp"

namespace bilancetta
{

namespace
{

constexpr int curve_points = 256;

// The other reading, with all its errors: the rise B itself, or the submerged weight D - B.
ReadingLikelihood other_reading(const Weighing& w, Way way, const DisplacementErrors& e)
{
  const Readings& r = w.readings;
  std::vector<double> displayed;
  int extra_numbers = 0;
  if (way == Way::submerged) {
    displayed = r.submerged_g;
    extra_numbers = r.holder_g ? 1 : 0;
    for (double& value : displayed) {
      value -= r.holder_g.value_or(0.0);
    }
  } else if (way == Way::bottle) {
    displayed = {*r.bottle_with_piece_g - *r.bottle_full_g};
    extra_numbers = 1;
  } else if (!r.rise_g.empty()) {
    displayed = r.rise_g;
  } else {
    displayed = {*r.cup_after_g - *r.cup_before_g};
    extra_numbers = 1;
  }
  // A meniscus pulls the thread down: the submerged weight reads high, the cup's rise low.
  for (double& value : displayed) {
    value += way == Way::rise ? e.thread_pull : -e.thread_pull;
  }
  const double normal_u = std::hypot(e.liquid_u, e.bottle_u);
  const double symmetric =
      w.scale.linearity_g + e.thread_half_width + 3.0 * normal_u +
      extra_numbers * (0.5 * w.scale.readability_g + 3.0 * w.scale.repeatability_g + w.scale.linearity_g);
  const double bubbles = 12.0 * e.bubble_mean;
  const bool direct = way == Way::rise;
  ReadingLikelihood likelihood(displayed, w.scale, symmetric + (direct ? bubbles : 0.0),
                               symmetric + (direct ? 0.0 : bubbles));
  likelihood.smooth_box(w.scale.linearity_g);
  for (int i = 0; i < extra_numbers; ++i) {
    likelihood.smooth_box(0.5 * w.scale.readability_g);
    likelihood.smooth_normal(w.scale.repeatability_g);
    likelihood.smooth_box(w.scale.linearity_g);
  }
  likelihood.smooth_box(e.thread_half_width);
  likelihood.smooth_normal(normal_u);
  // Bubbles displace liquid: the rise reads high, the submerged weight low.
  direct ? likelihood.smooth_excess(e.bubble_mean) : likelihood.smooth_shortfall(e.bubble_mean);
  return likelihood;
}

}  // namespace

DensityCurve density_curve_of(const Weighing& weighing)
{
  check(weighing);
  const Way way = way_of(weighing.readings);
  const LiquidDensity liquid = liquid_density_of(weighing.surroundings);
  DensityCurve curve;
  curve.liquid_g_cm3 = liquid.g_cm3;
  curve.air_g_cm3 = air_density_g_cm3(weighing.surroundings.air);
  const Displacement d = displacement_of(weighing.readings);
  const DisplacementErrors extra = displacement_errors_of(weighing, d, liquid, curve.air_g_cm3);

  ReadingLikelihood dry(weighing.readings.dry_g, weighing.scale, weighing.scale.linearity_g,
                        weighing.scale.linearity_g);
  dry.smooth_box(weighing.scale.linearity_g);
  const ReadingLikelihood other = other_reading(weighing, way, extra);

  const auto [dry_low, dry_high] = dry.support();
  const auto [other_low, other_high] = other.support();
  const double least_dry = std::max(dry_low, 1e-3 * dry_high);
  double low = way == Way::rise ? other_low / (other_low > 0 ? dry_high : least_dry)
                                : 1.0 - other_high / (other_high > 0 ? least_dry : dry_high);
  double high = way == Way::rise ? other_high / (other_high > 0 ? least_dry : dry_high)
                                 : 1.0 - other_low / (other_low > 0 ? dry_high : least_dry);
  curve.first_share = low;
  curve.share_step = (high - low) / (curve_points - 1);

  // Dry weights as dense as the other reading needs: many repeats make it far narrower.
  const double seen_from_other = (way == Way::rise ? high : 1.0) * (dry_high - least_dry) / (other_high - other_low);
  const int dry_points = std::clamp(static_cast<int>(32.0 * seen_from_other), 24, 512);
  curve.likelihood.resize(curve_points);
  double best = 0.0;
  for (int j = 0; j < curve_points; ++j) {
    const double share = curve.share_at(j);
    double total = 0.0;
    for (int i = 0; i < dry_points; ++i) {
      const double dry_g = least_dry + (dry_high - least_dry) * (i + 0.5) / dry_points;
      total += dry(dry_g) * other(way == Way::rise ? share * dry_g : (1.0 - share) * dry_g);
    }
    curve.likelihood[j] = total;
    best = std::max(best, total);
  }
  for (double& value : curve.likelihood) {
    value = best > 0.0 ? value / best : 1.0;
  }
  return curve;
}

}  // namespace bilancetta
