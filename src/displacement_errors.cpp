#include "displacement_errors.hpp"

#include <algorithm>
#include <cmath>

namespace bilancetta
{

namespace
{

constexpr double thread_half_width_g = 0.0005;  // hysteresis of a tared meniscus, rectangular
constexpr double bottle_mark_u_g = 0.002;       // setting the level to the mark
constexpr double bottle_temperature_u_k = 0.3;  // between the two fillings

}  // namespace

DisplacementErrors displacement_errors_of(const Weighing& w, const Displacement& d, const LiquidDensity& liquid,
                                          double air)
{
  DisplacementErrors e;
  const Way way = way_of(w.readings);
  const double displaced = std::max(d.displaced_g, w.scale.readability_g);
  const double difference = liquid.g_cm3 - air;
  const double air_part = std::abs(d.dry_g - displaced) / d.dry_g * air * air_relative_u;
  e.liquid_u = displaced / difference * std::hypot(liquid.temperature_u, liquid.salts_u, air_part);
  e.bubble_mean = bubble_mean_g_cm2(w.surroundings.wetting) * surface_cm2(w, displaced / liquid.g_cm3);
  if (way == Way::bottle) {
    // Water in the bottle: about six tenths of what the full bottle weighs (judgement).
    const double water_g = 0.6 * *w.readings.bottle_full_g;
    e.bottle_u = std::hypot(bottle_mark_u_g, water_g * 2.07e-4 * bottle_temperature_u_k);
  } else if (w.surroundings.thread_tared) {
    e.thread_half_width = thread_half_width_g * w.surroundings.thread_mm / 0.1;
  } else {
    // pi d gamma cos(theta) / g, theta anywhere from 0 to 60 degrees.
    const double full_g =
        M_PI * w.surroundings.thread_mm * 1e-3 * water_surface_tension_mn_m(20.0) * 1e-3 / 9.81 * 1000.0;
    e.thread_pull = 0.75 * full_g;
    e.thread_half_width = 0.25 * full_g;
  }
  return e;
}

}  // namespace bilancetta
