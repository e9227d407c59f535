#include "bilancetta/density.hpp"

#include <algorithm>

#include "displacement_errors.hpp"
#include "reading_likelihood.hpp"
#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

constexpr int curve_points = 128;
constexpr int liquid_points = 128;  // of the reading in the liquid, which other errors smooth

struct Displayed {
  std::vector<double> values;
  int extra_numbers = 0;  // read besides: the cup before, the holder, the full bottle
};

// What was read in the liquid: the rise B itself, or the submerged weight D - B.
Displayed displayed_in_liquid(const Readings& r, Way way)
{
  if (way == Way::submerged) {
    Displayed shown{r.submerged_g, r.holder_g ? 1 : 0};
    for (double& value : shown.values) {
      value -= r.holder_g.value_or(0.0);
    }
    return shown;
  }
  if (way == Way::bottle) {
    return {{*r.bottle_with_piece_g - full_bottle_g(r)}, 1};
  }
  if (!r.rise_g.empty()) {
    return {r.rise_g, 0};
  }
  return {{*r.cup_after_g - *r.cup_before_g}, 1};
}

// The same with all its errors. What adds to the displaced weight adds to a rise and is taken off a submerged
// weight.
ReadingLikelihood other_reading(const Weighing& w, Way way, const DisplacementErrors& e)
{
  Displayed shown = displayed_in_liquid(w.readings, way);
  const bool direct = way == Way::rise;
  for (double& value : shown.values) {
    value += direct ? e.shift_g : -e.shift_g;
  }
  const Scale& scale = liquid_scale_of(w);
  const double normal_u = e.normal_u_g();
  const double tare_half_width = counts_from_rounded_tare(w) ? 0.5 * scale.readability_g : 0.0;
  const double boxes = e.thread_half_width_g + e.evaporation_half_width_g + e.drift_half_width_g + tare_half_width;
  const double symmetric = e.linearity_half_width_g + boxes + 3.0 * normal_u +
                           shown.extra_numbers * (0.5 * scale.readability_g + 3.0 * scale.repeatability_g +
                                                  scale.linearity_g + scale.drift_g);
  const double bubbles = 12.0 * e.bubble_mean_g;
  ReadingLikelihood likelihood(shown.values, scale, symmetric + (direct ? bubbles : 0.0),
                               symmetric + (direct ? 0.0 : bubbles), liquid_points);
  likelihood.smooth_box(e.linearity_half_width_g);
  for (int i = 0; i < shown.extra_numbers; ++i) {
    likelihood.smooth_box(0.5 * scale.readability_g);
    likelihood.smooth_normal(scale.repeatability_g);
    likelihood.smooth_box(scale.linearity_g);
    likelihood.smooth_box(scale.drift_g);
  }
  likelihood.smooth_box(tare_half_width);
  likelihood.smooth_box(e.thread_half_width_g);
  likelihood.smooth_box(e.evaporation_half_width_g);
  likelihood.smooth_box(e.drift_half_width_g);
  likelihood.smooth_normal(normal_u);
  // Bubbles displace liquid: the rise reads high, the submerged weight low.
  if (direct) {
    likelihood.smooth_excess(e.bubble_mean_g);
  } else {
    likelihood.smooth_shortfall(e.bubble_mean_g);
  }
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

  // A rise is a small part of the dry weight, and so is what an error of the dry weight does to it.
  const bool hardly_seen = way == Way::rise && d.displaced_g < 0.3 * d.dry_g && weighing.readings.dry_g.size() == 1;
  const Scale& scale = weighing.scale;
  const double boxes = scale.linearity_g + scale.drift_g;
  ReadingLikelihood dry(weighing.readings.dry_g, scale, boxes, boxes,
                        hardly_seen ? 64 : ReadingLikelihood::most_points);
  dry.smooth_box(scale.linearity_g);
  dry.smooth_box(scale.drift_g);
  const ReadingLikelihood other = other_reading(weighing, way, extra);

  const auto [dry_low, dry_high] = dry.support();
  const auto [other_low, other_high] = other.support();
  const double least_dry = std::max(dry_low, 1e-3 * dry_high);
  double low = way == Way::rise ? other_low / (other_low > 0 ? dry_high : least_dry)
                                : 1.0 - other_high / (other_high > 0 ? least_dry : dry_high);
  double high = way == Way::rise ? other_high / (other_high > 0 ? least_dry : dry_high)
                                 : 1.0 - other_low / (other_low > 0 ? dry_high : least_dry);
  // A piece near nothing may read any share; no more than this, of 0.29 g/cm3, can matter to a density on the grid.
  const double far = 3.5 * std::max(curve.liquid_g_cm3, 1.0);
  low = std::clamp(low, -far, far - 0.1);
  high = std::clamp(high, low + 1e-9, std::max(far, low + 1e-9));
  curve.first_share = low;
  curve.share_step = (high - low) / (curve_points - 1);

  // Dry weights as dense as the other reading needs: many repeats make it far narrower.
  const double seen_from_other = (way == Way::rise ? high : 1.0) * (dry_high - least_dry) / (other_high - other_low);
  const int dry_points = std::clamp(static_cast<int>(16.0 * seen_from_other), hardly_seen ? 6 : 10, 512);
  curve.likelihood.assign(curve_points, 0.0);
  const double first_part = way == Way::rise ? low : 1.0 - low;
  const double step_of_part = way == Way::rise ? curve.share_step : -curve.share_step;
  for (int i = 0; i < dry_points; ++i) {
    const double dry_g = least_dry + (dry_high - least_dry) * (i + 0.5) / dry_points;
    other.add_line(first_part * dry_g, step_of_part * dry_g, dry(dry_g), curve.likelihood);
  }
  const double best = largest_of(curve.likelihood.data(), curve.likelihood.size());
  for (double& value : curve.likelihood) {
    value = best > 0.0 ? value / best : 1.0;
  }
  return curve;
}

}  // namespace bilancetta
