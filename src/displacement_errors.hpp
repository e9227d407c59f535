#pragma once

#include "bilancetta/weighing.hpp"

namespace bilancetta
{

/// Errors of the displacement besides those of the displayed numbers, as grams of displaced liquid.
/// Sources and sizes: docs/uncertainty.md.
struct DisplacementErrors {
  double shift_g = 0.0;                 ///< known mean effect on the displaced weight; add it to what was read
  double thread_shift_g = 0.0;          ///< the thread's part of it
  double evaporation_shift_g = 0.0;     ///< that of evaporation
  double solid_shift_g = 0.0;           ///< that of the piece's own expansion since 20 C
  double linearity_half_width_g = 0.0;  ///< of the number shown in the liquid
  double thread_half_width_g = 0.0;     ///< meniscus and immersed length, rectangular
  double evaporation_half_width_g = 0.0;
  double drift_half_width_g = 0.0;
  double bubble_mean_g = 0.0;  ///< exponential; the piece displaces more
  double temperature_u_g = 0.0, salts_u_g = 0.0, air_u_g = 0.0, solid_u_g = 0.0;  ///< normal, by cause
  double bottle_u_g = 0.0;  ///< filling to the mark, and two fillings at unlike temperatures
  double span_u_g = 0.0;    ///< two scales
  double shared_u_g = 0.0;  ///< what a sitting leaves of the errors its pieces share; holds the liquid's then
  [[nodiscard]] double normal_u_g() const;
  /// Mean of all: add it to what was read.
  [[nodiscard]] double mean_g() const { return shift_g - bubble_mean_g; }
};
DisplacementErrors displacement_errors_of(const Weighing& weighing, const Displacement& displacement,
                                          const LiquidDensity& liquid, double air_g_cm3);

/// What was read, with the means of these errors taken off: where first order is taken. Of what was displaced a quarter
/// stays at least: where errors are larger than that, first order tells nothing anyway.
Displacement corrected_displacement(const Weighing& weighing, const LiquidDensity& liquid, double air_g_cm3);

}  // namespace bilancetta
