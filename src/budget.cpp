#include <ceres/jet.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "bilancetta/density.hpp"
#include "displacement_errors.hpp"

namespace bilancetta
{

namespace
{

// Those that add anything, largest first.
std::vector<BudgetLine> with_shares(std::vector<BudgetLine> lines)
{
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

}  // namespace

std::vector<BudgetLine> budget_of(const Weighing& weighing)
{
  if (displacement_of(weighing.readings).displaced_g <= 0.0) {
    return {};
  }
  const Way way = way_of(weighing.readings);
  const LiquidDensity liquid = liquid_density_of(weighing.surroundings);
  const double air = air_density_g_cm3(weighing.surroundings.air);
  const Displacement d = corrected_displacement(weighing, liquid, air);
  using Jet = ceres::Jet<double, 4>;
  const Jet dry(d.dry_g, 0);
  const Jet displaced = way == Way::rise ? Jet(d.displaced_g, 1) : dry - Jet(d.dry_g - d.displaced_g, 1);
  const Jet density = density_from(dry, displaced, Jet(liquid.g_cm3, 2), Jet(air, 3));
  const auto c = [&](int input) { return std::abs(density.v[input]); };

  const DisplacementErrors e = displacement_errors_of(weighing, d, liquid, air);
  const Scale& dry_scale = weighing.scale;
  const Scale& scale = liquid_scale_of(weighing);
  const Readings& r = weighing.readings;
  const double liquid_left = weighing.shared ? 0.0 : 1.0;  // a sitting counts the liquid among the shared errors
  const std::vector<double>& in_liquid = r.rise_g.empty() ? r.submerged_g : r.rise_g;
  const double repeats = std::max<double>(1.0, static_cast<double>(in_liquid.size()));
  const double numbers = r.cup_before_g || r.holder_g || r.bottle_full_g ? 2.0 : 1.0;
  const double roundings = numbers + (counts_from_rounded_tare(weighing) ? 1.0 : 0.0);
  const auto both = [&](double dry_u, double other_u) { return std::hypot(c(0) * dry_u, c(1) * other_u); };
  const auto rectangular = [](double half_width) { return half_width / std::sqrt(3.0); };
  std::vector<BudgetLine> lines = {
      {"readability",
       both(rectangular(0.5 * dry_scale.readability_g), rectangular(0.5 * scale.readability_g) * std::sqrt(roundings)),
       0},
      {"repeatability",
       both(noise_of(r.dry_g, dry_scale) / std::sqrt(static_cast<double>(r.dry_g.size())),
            std::hypot(noise_of(in_liquid, scale) / std::sqrt(repeats),
                       scale.repeatability_g * std::sqrt(numbers - 1.0))),
       0},
      {"linearity",
       both(rectangular(dry_scale.linearity_g),
            rectangular(std::hypot(e.linearity_half_width_g, scale.linearity_g * std::sqrt(numbers - 1.0)))),
       0},
      {"drift",
       both(rectangular(dry_scale.drift_g),
            rectangular(std::hypot(e.drift_half_width_g, scale.drift_g * std::sqrt(numbers - 1.0)))),
       0},
      {"span of two scales", c(1) * e.span_u_g, 0},
      {"thread", c(1) * rectangular(e.thread_half_width_g), 0},
      {"evaporation", c(1) * rectangular(e.evaporation_half_width_g), 0},
      {"bubbles", c(1) * e.bubble_mean_g, 0},
      {"bottle filling", c(1) * e.bottle_u_g, 0},
      {"errors shared by the sitting", c(1) * e.shared_u_g, 0},
      {"liquid temperature", c(2) * liquid_left * liquid.temperature_u_g_cm3, 0},
      {weighing.surroundings.liquid_density_g_cm3 ? "liquid density" : "dissolved salts",
       c(2) * liquid_left * liquid.salts_u_g_cm3, 0},
      {"air", c(1) * e.air_u_g, 0},
      {"expansion of the piece", c(1) * e.solid_u_g, 0}};
  return with_shares(std::move(lines));
}

}  // namespace bilancetta
