#include "displacement_errors.hpp"

#include <algorithm>
#include <cmath>

namespace bilancetta
{

namespace
{

constexpr double air_relative_u = 0.05 / 1.7320508075688772;  // +-5 % rectangular: no barometer, some altitude
constexpr double tared_thread_g = 0.0005;      // hysteresis of a tared meniscus on a 0.1 mm thread, rectangular
constexpr double wetted_thread_cm = 2.0;       // of an untared thread under water
constexpr double soap_tension_share = 0.45;    // of the tension of clean water, with a drop of detergent
constexpr double least_tension_share = 0.25;   // of another liquid, of the tension of water: alcohols (from memory)
constexpr double most_tension_share = 1.1;     // brines and heavy solutions of salts (from memory)
constexpr double bottle_mark_u_g = 0.002;      // setting the level to the mark
constexpr double bottle_apart_u_k = 0.3;       // between the two fillings, if not measured
constexpr double other_liquid_per_k = 1.1e-3;  // alcohol, of its density (from memory)
constexpr double thermometer_u_k = 0.1;        // if measured
constexpr double expansion_u_per_k = 20e-6;    // of metals about the usual one (judgement)

struct Ends {
  double least, most;
};

// Surface tension of the liquid, of that of clean water. Soap is in the water of what was soaped or boiled (as soaped,
// in boiled water), and may be in that of a sealed piece. Another liquid has from that of alcohol to that of a strong
// brine.
Ends tension_share_of(const Surroundings& s)
{
  if (s.liquid_density_g_cm3) {
    return {least_tension_share, most_tension_share};
  }
  const bool soap = s.wetting == Wetting::soaped || s.wetting == Wetting::boiled;
  const bool unknown = s.wetting == Wetting::sealed;
  return {soap || unknown ? soap_tension_share : 1.0, soap ? soap_tension_share : 1.0};
}

// Meniscus force pi d gamma cos(theta), as grams, theta anywhere from 0 to 60 degrees.
Ends meniscus_g_of(const Surroundings& s)
{
  const double of_water_g = M_PI * s.thread_mm * 1e-3 * 1e-3 * water_surface_tension_mn_m(20.0) / 9.81 * 1000.0;
  const Ends share = tension_share_of(s);
  return {0.5 * share.least * of_water_g, share.most * of_water_g};
}

void add_thread(const Weighing& w, double displaced, double liquid, DisplacementErrors& e)
{
  const Surroundings& s = w.surroundings;
  // The level rises as the piece goes in and wets more thread: its volume counts with the piece's.
  const double thread_to_cup = s.thread_mm * s.thread_mm / (s.cup_mm * s.cup_mm);
  e.thread_shift_g -= displaced * thread_to_cup;
  if (s.thread_tared) {
    e.thread_half_width_g = tared_thread_g * s.thread_mm / 0.1;
    return;
  }
  // The pull makes the piece heavier in the liquid, as if it displaced less; the wet thread displaces a little.
  const Ends pull_g = meniscus_g_of(s);
  const double wet = liquid * M_PI / 4.0 * s.thread_mm * s.thread_mm * 1e-2 * wetted_thread_cm;
  e.thread_shift_g += 0.5 * (pull_g.least + pull_g.most) - wet;
  e.thread_half_width_g = 0.5 * (pull_g.most - pull_g.least) + 0.5 * wet;
}

// Setting the level, what the thermometer or its absence leaves open, and how much of the bottle is water.
double bottle_u_g(const Weighing& w)
{
  const Readings& r = w.readings;
  const bool measured = r.bottle_c && r.bottle_with_piece_c;
  const double per_k = w.surroundings.liquid_density_g_cm3 ? other_liquid_per_k
                                                           : water_density_slope_g_cm3_k(w.surroundings.water_c) /
                                                                 water_density_g_cm3(w.surroundings.water_c);
  const double left = measured ? water_left_in_bottle(*r.bottle_c, *r.bottle_with_piece_c) : 1.0;
  const double water_g = water_in_bottle * *r.bottle_full_g;
  return std::hypot(bottle_mark_u_g, water_g * per_k * (measured ? thermometer_u_k : bottle_apart_u_k),
                    water_in_bottle_u * *r.bottle_full_g * (1.0 - left));
}

// A sitting has taken its part of these errors out of the single weighing.
void leave_own_part(const SharedErrors& shared, DisplacementErrors& e)
{
  e.shift_g += shared.displaced_shift_g;
  e.temperature_u_g = e.salts_u_g = 0.0;
  e.shared_u_g = shared.displaced_u_g;
  for (double* half_width : {&e.linearity_half_width_g, &e.evaporation_half_width_g, &e.drift_half_width_g}) {
    *half_width *= std::sqrt(shared.own_share);
  }
}

}  // namespace

double DisplacementErrors::normal_u_g() const
{
  return std::hypot(std::hypot(temperature_u_g, salts_u_g, air_u_g), std::hypot(solid_u_g, bottle_u_g, span_u_g),
                    shared_u_g);
}

DisplacementErrors displacement_errors_of(const Weighing& w, const Displacement& d, const LiquidDensity& liquid,
                                          double air)
{
  DisplacementErrors e;
  const Surroundings& s = w.surroundings;
  const Way way = way_of(w.readings);
  const double displaced = std::max(d.displaced_g, liquid_scale_of(w).readability_g);
  const double difference = liquid.g_cm3 - air;
  // Densities are those at 20 C; the piece is as warm as the liquid.
  const double warmer = s.water_c - 20.0;
  e.solid_shift_g = -displaced * usual_expansion_per_k * warmer;
  e.solid_u_g = displaced * expansion_u_per_k * std::hypot(warmer, s.water_c_u);
  e.temperature_u_g = displaced * liquid.temperature_u_g_cm3 / difference;
  e.salts_u_g = displaced * liquid.salts_u_g_cm3 / difference;
  e.air_u_g = displaced * std::abs(d.dry_g - displaced) / d.dry_g * air * air_relative_u / difference;
  e.linearity_half_width_g = liquid_scale_of(w).linearity_g;
  e.drift_half_width_g = liquid_scale_of(w).drift_g;
  e.bubble_mean_g = bubble_mean_g_cm2(s.wetting) * surface_cm2(w, displaced / liquid.g_cm3);
  if (w.liquid_scale) {
    e.span_u_g = std::sqrt(2.0) * w.span_u * (way == Way::rise ? displaced : d.dry_g - displaced);
  }
  if (way == Way::bottle) {
    e.bottle_u_g = bottle_u_g(w);
  } else {
    add_thread(w, displaced, liquid.g_cm3, e);
  }
  if (way == Way::rise) {
    e.evaporation_half_width_g = 0.5 * s.evaporation_g;
    e.evaporation_shift_g = 0.5 * s.evaporation_g;
  }
  e.shift_g = e.thread_shift_g + e.evaporation_shift_g + e.solid_shift_g;
  if (w.shared) {
    leave_own_part(*w.shared, e);
  }
  return e;
}

Displacement corrected_displacement(const Weighing& w, const LiquidDensity& liquid, double air)
{
  constexpr double least_part = 0.25;
  Displacement d = displacement_of(w.readings);
  const DisplacementErrors e = displacement_errors_of(w, d, liquid, air);
  d.displaced_g = std::max(d.displaced_g + e.mean_g(), least_part * d.displaced_g);
  return d;
}

}  // namespace bilancetta
