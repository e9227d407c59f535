#pragma once

#include "bilancetta/weighing.hpp"

namespace bilancetta
{

/// +-5 % rectangular: no barometer, some altitude.
inline constexpr double air_relative_u = 0.05 / 1.7320508075688772;

/// Errors of the displacement besides those of the displayed numbers, in grams.
struct DisplacementErrors {
  double thread_half_width = 0.0;  ///< meniscus, rectangular
  double thread_pull = 0.0;        ///< known mean pull of an untared thread: the piece reads heavier in liquid
  double bubble_mean = 0.0;        ///< exponential; the piece displaces more
  double liquid_u = 0.0;           ///< temperature, salts and air together, as an error of the displaced weight
  double bottle_u = 0.0;           ///< filling to the mark, and two fillings at unlike temperatures
};
DisplacementErrors displacement_errors_of(const Weighing& weighing, const Displacement& displacement,
                                          const LiquidDensity& liquid, double air_g_cm3);

}  // namespace bilancetta
