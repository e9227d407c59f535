#include "bilancetta/density.hpp"

#include <ceres/jet.h>

#include <algorithm>
#include <cmath>

#include "reading_likelihood.hpp"

namespace bilancetta {

namespace {

constexpr int curve_points = 256;
constexpr double air_relative_u = 0.05 / 1.7320508075688772;  // +-5 % rectangular: no barometer, some altitude
constexpr double thread_half_width_g = 0.0005;                // hysteresis of a tared meniscus, rectangular
constexpr double bottle_mark_u_g = 0.002;                     // setting the level to the mark
constexpr double bottle_temperature_u_k = 0.3;                // between the two fillings

// Errors of the displacement besides those of the displayed numbers, in grams.
struct ExtraErrors {
  double thread_half_width = 0.0;
  double thread_pull = 0.0;   // known mean pull of an untared thread: makes the piece read heavier in liquid
  double bubble_mean = 0.0;
  double liquid_u = 0.0;      // liquid and air density, as an error of the displaced weight
  double temperature_part = 0.0, salts_part = 0.0, air_part = 0.0;
  double bottle_u = 0.0;
};

ExtraErrors extra_errors_of(const Weighing& w, const Displacement& d, const LiquidDensity& liquid, double air)
{
  ExtraErrors e;
  const Way way = way_of(w.readings);
  const double displaced = std::max(d.displaced_g, w.scale.readability_g);
  const double difference = liquid.g_cm3 - air;
  e.temperature_part = displaced * liquid.temperature_u / difference;
  e.salts_part = displaced * liquid.salts_u / difference;
  e.air_part = std::abs(d.dry_g - displaced) / d.dry_g * displaced * air * air_relative_u / difference;
  e.liquid_u = std::hypot(e.temperature_part, e.salts_part, e.air_part);
  e.bubble_mean = bubble_mean_g_cm2(w.surroundings.wetting) * surface_cm2(w, displaced / liquid.g_cm3) * liquid.g_cm3;
  if (way == Way::bottle) {
    // Water in the bottle: about six tenths of what the full bottle weighs (judgement).
    const double water_g = 0.6 * *w.readings.bottle_full_g;
    e.bottle_u = std::hypot(bottle_mark_u_g, water_g * 2.07e-4 * bottle_temperature_u_k);
  } else if (w.surroundings.thread_tared) {
    e.thread_half_width = thread_half_width_g * w.surroundings.thread_mm / 0.1;
  } else {
    // pi d gamma cos(theta) / g, theta anywhere from 0 to 60 degrees.
    const double full_g = M_PI * w.surroundings.thread_mm * 1e-3 * water_surface_tension_mn_m(20.0) * 1e-3 / 9.81 * 1000.0;
    e.thread_pull = 0.75 * full_g;
    e.thread_half_width = 0.25 * full_g;
  }
  return e;
}

// The other reading, with all its errors: the rise B itself, or the submerged weight D - B.
ReadingLikelihood other_reading(const Weighing& w, Way way, const ExtraErrors& e)
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
  const double symmetric = w.scale.linearity_g + e.thread_half_width + 3.0 * normal_u +
                           extra_numbers * (0.5 * w.scale.readability_g + 3.0 * w.scale.repeatability_g + w.scale.linearity_g);
  const double bubbles = 12.0 * e.bubble_mean;
  const bool direct = way == Way::rise;
  ReadingLikelihood likelihood(displayed, w.scale, symmetric + (direct ? bubbles : 0.0), symmetric + (direct ? 0.0 : bubbles));
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
  const ExtraErrors extra = extra_errors_of(weighing, d, liquid, curve.air_g_cm3);

  ReadingLikelihood dry(weighing.readings.dry_g, weighing.scale, weighing.scale.linearity_g, weighing.scale.linearity_g);
  dry.smooth_box(weighing.scale.linearity_g);
  const ReadingLikelihood other = other_reading(weighing, way, extra);

  const auto [dry_low, dry_high] = dry.support();
  const auto [other_low, other_high] = other.support();
  const double least_dry = std::max(dry_low, 1e-3 * dry_high);
  const double difference = curve.liquid_g_cm3 - curve.air_g_cm3;
  const double least_share = difference / (density_grid::highest_g_cm3 - curve.air_g_cm3);
  const double most_share = difference / (density_grid::lowest_g_cm3 - curve.air_g_cm3);
  double low = way == Way::rise ? other_low / (other_low > 0 ? dry_high : least_dry) : 1.0 - other_high / (other_high > 0 ? least_dry : dry_high);
  double high = way == Way::rise ? other_high / (other_high > 0 ? least_dry : dry_high) : 1.0 - other_low / (other_low > 0 ? dry_high : least_dry);
  low = std::clamp(low, least_share, most_share);
  high = std::clamp(high, least_share, most_share);
  if (high - low < 1e-12) {  // all outside the range: the nearest end, and the summary says so
    low = std::max(least_share, low - 1e-6);
    high = low + 1e-6;
  }
  curve.first_share = low;
  curve.share_step = (high - low) / (curve_points - 1);

  constexpr int dry_points = 24;
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

namespace {

// Mass of each cell of the curve under "every density equally likely", and its ends in density.
template <typename Use>
void for_each_cell(const DensityCurve& curve, Use use)
{
  for (std::size_t j = 0; j + 1 < curve.likelihood.size(); ++j) {
    const double upper = curve.density_at(static_cast<double>(j));
    const double lower = curve.density_at(static_cast<double>(j) + 1.0);
    use(lower, upper, curve.likelihood[j + 1], curve.likelihood[j]);
  }
}

struct Quantiles {
  const DensityCurve& curve;
  double total;

  // Density below which this share of the mass lies; cells are walked from the densest down.
  [[nodiscard]] double at(double probability) const
  {
    const double above = (1.0 - probability) * total;
    double passed = 0.0;
    double answer = curve.density_at(static_cast<double>(curve.likelihood.size()) - 1.0);
    bool found = false;
    for_each_cell(curve, [&](double lower, double upper, double at_lower, double at_upper) {
      const double mass = 0.5 * (at_lower + at_upper) * (upper - lower);
      if (!found && passed + mass >= above) {
        // Inside the cell the likelihood is linear; solve the quadratic for the wanted share.
        const double want = (above - passed) / (upper - lower);
        const double slope = at_lower - at_upper;
        const double t = 2.0 * want / (at_upper + std::sqrt(std::max(at_upper * at_upper + 2.0 * slope * want, 1e-300)));
        answer = upper - std::clamp(t, 0.0, 1.0) * (upper - lower);
        found = true;
      }
      passed += mass;
    });
    return answer;
  }
};

}  // namespace

DensitySummary summary_of(const DensityCurve& curve, const Weighing& weighing, double level)
{
  double total = 0.0;
  double first = 0.0;
  double second = 0.0;
  for_each_cell(curve, [&](double lower, double upper, double at_lower, double at_upper) {
    const double mass = 0.5 * (at_lower + at_upper) * (upper - lower);
    const double middle = 0.5 * (lower + upper);
    total += mass;
    first += mass * middle;
    second += mass * middle * middle;
  });
  const Quantiles quantile{curve, total};
  DensitySummary s;
  s.level = level;
  s.value = quantile.at(0.5);
  s.standard_uncertainty = std::sqrt(std::max(second / total - (first / total) * (first / total), 0.0));
  s.low = quantile.at(0.5 - 0.5 * level);
  s.high = quantile.at(0.5 + 0.5 * level);
  s.bounded = !(curve.density_at(0.0) > 0.999 * density_grid::highest_g_cm3 && curve.likelihood.front() > 1e-2);
  if (!s.bounded) {
    s.high = density_grid::highest_g_cm3;
  }
  const Displacement d = displacement_of(weighing.readings);
  if (d.displaced_g > 0.0) {
    s.plain = density_from(d.dry_g, d.displaced_g, curve.liquid_g_cm3, curve.air_g_cm3);
    s.relative_density = d.dry_g / d.displaced_g;
  }
  return s;
}

std::vector<BudgetLine> budget_of(const Weighing& weighing)
{
  const Displacement d = displacement_of(weighing.readings);
  if (d.displaced_g <= 0.0) {
    return {};
  }
  const Way way = way_of(weighing.readings);
  const LiquidDensity liquid = liquid_density_of(weighing.surroundings);
  const double air = air_density_g_cm3(weighing.surroundings.air);
  using Jet = ceres::Jet<double, 4>;
  const Jet dry(d.dry_g, 0);
  const Jet displaced = way == Way::rise ? Jet(d.displaced_g, 1) : dry - Jet(d.dry_g - d.displaced_g, 1);
  const Jet density = density_from(dry, displaced, Jet(liquid.g_cm3, 2), Jet(air, 3));
  const auto c = [&](int input) { return std::abs(density.v[input]); };

  const ExtraErrors e = extra_errors_of(weighing, d, liquid, air);
  const Scale& s = weighing.scale;
  const Readings& r = weighing.readings;
  const double others = std::max<double>(1.0, static_cast<double>(std::max(r.rise_g.size(), r.submerged_g.size())));
  const double numbers = r.cup_before_g || r.holder_g || r.bottle_full_g ? 2.0 : 1.0;
  const auto both = [&](double dry_u, double other_u) { return std::hypot(c(0) * dry_u, c(1) * other_u); };
  const double step_u = s.readability_g / std::sqrt(12.0);
  const double bound_u = s.linearity_g / std::sqrt(3.0);
  std::vector<BudgetLine> lines = {
      {"readability", both(step_u, step_u * std::sqrt(numbers)), 0},
      {"repeatability", both(s.repeatability_g / std::sqrt(static_cast<double>(r.dry_g.size())),
                             s.repeatability_g * std::sqrt(numbers / others)), 0},
      {"linearity", both(bound_u, bound_u * std::sqrt(numbers)), 0},
      {"thread", c(1) * e.thread_half_width / std::sqrt(3.0), 0},
      {"bubbles", c(1) * e.bubble_mean, 0},
      {"bottle filling", c(1) * e.bottle_u, 0},
      {"liquid temperature", c(2) * liquid.temperature_u, 0},
      {weighing.surroundings.liquid_density_g_cm3 ? "liquid density" : "dissolved salts", c(2) * liquid.salts_u, 0},
      {"air", c(3) * air * air_relative_u, 0}};
  std::erase_if(lines, [](const BudgetLine& line) { return line.standard_uncertainty <= 0.0; });
  double variance = 0.0;
  for (const BudgetLine& line : lines) {
    variance += line.standard_uncertainty * line.standard_uncertainty;
  }
  for (BudgetLine& line : lines) {
    line.share = line.standard_uncertainty * line.standard_uncertainty / variance;
  }
  std::sort(lines.begin(), lines.end(), [](const auto& a, const auto& b) { return a.share > b.share; });
  return lines;
}

GridFunction weights_on_grid(const DensityCurve& curve)
{
  const double last_point = static_cast<double>(curve.likelihood.size()) - 1.0;
  const int first = std::max(0, static_cast<int>(std::floor(density_grid::position_of(curve.density_at(last_point)))));
  const int last = std::min(density_grid::nodes - 1,
                            static_cast<int>(std::ceil(density_grid::position_of(curve.density_at(0.0)))));
  std::vector<double> weight(last - first + 2, 0.0);
  for_each_cell(curve, [&](double lower, double upper, double at_lower, double at_upper) {
    // Pieces no wider than half a node spacing, each shared between its two nodes.
    const int pieces = 1 + static_cast<int>((upper - lower) / lower / (0.5 * density_grid::spacing));
    const double width = (upper - lower) / pieces;
    for (int k = 0; k < pieces; ++k) {
      const double t = (k + 0.5) / pieces;
      const double mass = width * (at_lower + t * (at_upper - at_lower));
      const double place = std::clamp(density_grid::position_of(lower + t * (upper - lower)) - first, 0.0,
                                      static_cast<double>(last - first));
      const int node = static_cast<int>(place);
      weight[node] += mass * (1.0 - (place - node));
      weight[node + 1] += mass * (place - node);
    }
  });
  return {first, {weight.begin(), weight.end() - 1}};
}

}  // namespace bilancetta
