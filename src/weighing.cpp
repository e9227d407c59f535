#include "bilancetta/weighing.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace bilancetta
{

namespace
{

double mean(const std::vector<double>& values)
{
  return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

}  // namespace

Scale scale_of(ScaleClass scale_class)
{
  switch (scale_class) {
    case ScaleClass::kitchen:
      return {1.0, 0.4, 0.5};
    case ScaleClass::pocket:
      return {0.01, 0.004, 0.005};
    case ScaleClass::jeweller:
      return {0.001, 0.001, 0.001};
    case ScaleClass::laboratory:
      return {0.0001, 0.00017, 0.0002};
  }
  return {};
}

std::string_view name_of(ScaleClass scale_class)
{
  constexpr std::string_view names[] = {"kitchen", "pocket", "jeweller", "laboratory"};
  return names[static_cast<int>(scale_class)];
}

ScaleClass scale_class_of_decimals(int decimals)
{
  if (decimals <= 0) {
    return ScaleClass::kitchen;
  }
  return decimals <= 2 ? ScaleClass::pocket : decimals == 3 ? ScaleClass::jeweller : ScaleClass::laboratory;
}

Scale scale_of_decimals(int decimals)
{
  return decimals == 1 ? Scale{0.1, 0.04, 0.05} : scale_of(scale_class_of_decimals(decimals));
}

Scale scale_of_step(double step_g)
{
  Scale scale = scale_of_decimals(decimals_shown({step_g, 0.0, 0.0}));
  const double times = step_g / scale.readability_g;
  return {step_g, times * scale.repeatability_g, times * scale.linearity_g};
}

int decimals_shown(const Scale& scale)
{
  return std::max(0, static_cast<int>(std::ceil(-std::log10(scale.readability_g) - 1e-9)));
}

double bubble_mean_g_cm2(Wetting wetting)
{
  constexpr double mg_cm2[] = {0.3, 0.1, 0.02, 0.0};
  return mg_cm2[static_cast<int>(wetting)] / 1000.0;
}

std::string_view name_of(Wetting wetting)
{
  constexpr std::string_view names[] = {"dunked", "soaped", "boiled", "sealed"};
  return names[static_cast<int>(wetting)];
}

double water_left_in_bottle(double bottle_c, double bottle_with_piece_c)
{
  constexpr double glass_per_k = 1e-5;
  return water_density_g_cm3(bottle_with_piece_c) / water_density_g_cm3(bottle_c) *
         (1.0 + glass_per_k * (bottle_with_piece_c - bottle_c));
}

// The full bottle as it would have read at the temperature of the second filling.
double full_bottle_g(const Readings& r)
{
  if (!r.bottle_c || !r.bottle_with_piece_c) {
    return *r.bottle_full_g;
  }
  return *r.bottle_full_g * (1.0 - water_in_bottle * (1.0 - water_left_in_bottle(*r.bottle_c, *r.bottle_with_piece_c)));
}

double reading_in_liquid_g(const Readings& r)
{
  if (!r.submerged_g.empty()) {
    return mean(r.submerged_g);
  }
  return r.bottle_with_piece_g ? *r.bottle_with_piece_g : r.cup_after_g ? *r.cup_after_g : mean(r.rise_g);
}

bool counts_from_rounded_tare(const Weighing& weighing)
{
  const Readings& r = weighing.readings;
  return weighing.surroundings.tare_rounded && !r.cup_before_g && !r.holder_g && !r.bottle_full_g;
}

Displacement displacement_of(const Readings& r)
{
  const double dry = mean(r.dry_g);
  switch (way_of(r)) {
    case Way::rise:
      return {dry, r.rise_g.empty() ? *r.cup_after_g - *r.cup_before_g : mean(r.rise_g)};
    case Way::submerged:
      return {dry, dry - (mean(r.submerged_g) - r.holder_g.value_or(0.0))};
    case Way::bottle:
      return {dry, dry + full_bottle_g(r) - *r.bottle_with_piece_g};
  }
  return {};
}

LiquidDensity liquid_density_of(const Surroundings& s)
{
  if (s.liquid_density_g_cm3) {
    return {*s.liquid_density_g_cm3 + s.liquid_shift_g_cm3,
            usual_expansion_per_k * *s.liquid_density_g_cm3 * s.water_c_u, s.liquid_density_u_g_cm3};
  }
  // Salts: 0.761e-3 g/cm3 per g/kg near zero (Chen & Millero 1986); tap water 0.25 +- 0.14 g/L.
  constexpr double per_g_l = 0.761e-3;
  const double salts = s.tap_water ? 0.25 * per_g_l : 0.0;
  // To second order, for the first is nothing at 7 C (JCGM 100:2008, note to 5.1.2).
  const double u = s.water_c_u;
  const double lost = (water_density_slope_g_cm3_k(s.water_c) - usual_expansion_per_k) * u;
  const double bent =
      0.5 * (water_density_slope_g_cm3_k(s.water_c + u) - water_density_slope_g_cm3_k(s.water_c - u)) * u;
  return {water_density_g_cm3(s.water_c, !s.air_free) + salts + s.liquid_shift_g_cm3, std::hypot(lost, bent / M_SQRT2),
          s.tap_water ? 0.14 * per_g_l : 0.0};
}

double mass_g(double dry_g, double density_g_cm3, double air_g_cm3, double adjusted_in_air_g_cm3)
{
  return dry_g * (1.0 - adjusted_in_air_g_cm3 / 8.0) / (1.0 - air_g_cm3 / density_g_cm3);
}

double noise_of(const std::vector<double>& displayed_g, const Scale& scale)
{
  constexpr double much = 2.5;
  double squares = 0.0;
  for (const double value : displayed_g) {
    squares += std::pow(value - mean(displayed_g), 2);
  }
  const double shown =
      displayed_g.size() > 1 ? std::sqrt(squares / (static_cast<double>(displayed_g.size()) - 1.0)) : 0.0;
  return shown > much * scale.repeatability_g ? shown : scale.repeatability_g;
}

Mass mass_of(const Weighing& w, double density_g_cm3)
{
  const Scale& s = w.scale;
  const double span = w.shared ? 1.0 + w.shared->span : 1.0;
  const double noise = noise_of(w.readings.dry_g, s);
  const double repeats = static_cast<double>(w.readings.dry_g.size());
  return {mass_g(mean(w.readings.dry_g), density_g_cm3, air_density_g_cm3(w.surroundings.air)) / span,
          std::sqrt(s.readability_g * s.readability_g / 12.0 + noise * noise / repeats +
                    (s.linearity_g * s.linearity_g + s.drift_g * s.drift_g) / 3.0),
          s.linearity_g / std::sqrt(3.0)};
}

bool rests_on_the_bottom(const Weighing& w)
{
  const Displacement d = displacement_of(w.readings);
  const double step = std::max(w.scale.readability_g, liquid_scale_of(w).readability_g);
  return way_of(w.readings) == Way::rise && std::abs(d.displaced_g - d.dry_g) < 2.0 * step && d.dry_g >= 20.0 * step;
}

double surface_cm2(const Weighing& weighing, double volume_cm3)
{
  constexpr double smallest_cm2 = 0.05;
  const double each = std::max(volume_cm3, 0.0) / weighing.count;
  const double area = weighing.area_cm2.value_or(weighing.shape_factor * std::cbrt(each * each));
  return std::max(area * weighing.count, smallest_cm2);
}

}  // namespace bilancetta
