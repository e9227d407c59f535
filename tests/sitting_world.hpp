#pragma once

// Sittings simulated from first principles, without the library's error model: true volumes and buoyancy, one liquid,
// one tare that drifts, and for each weighing bubbles, meniscus, evaporation, linearity, noise and rounding.

#include <cstdint>
#include <random>
#include <vector>

#include "bilancetta/sitting.hpp"

namespace testing
{

/// Standard deviations are those of the truth, whatever the library is told.
struct World {
  bilancetta::Scale scale;
  bilancetta::Way way = bilancetta::Way::rise;
  bilancetta::Wetting wetting = bilancetta::Wetting::soaped;
  double water_sd_k = 3.0;       ///< of the water about 20 C
  double liquid_stated_u = 0.0;  ///< if above 0: another liquid of 1.00 g/cm3, off by a normal of this sd
  double zero_part = 0.4;        ///< of the variance of linearity and evaporation in the liquid, for the whole sitting
  double drift_part = 0.4;       ///< likewise, end to end
  double more_zero_sd_g = 0.0;   ///< a tare that is off besides
  double zero_step_g = 0.0;      ///< from the middle of the sitting on the tare is off by that besides
  double gain_sd = 0.0;          ///< relative error of the span
  bool linearity_by_load = false;  ///< one error for each load instead of one for each weighing
};

/// What is to be weighed.
struct Body {
  double mass_g = 1.0, density_g_cm3 = 10.0;
  double known_u_g_cm3 = 0.0;  ///< above 0: stated as known, off by a normal of this sd
  bool known_mass = false;
  bool resting = false;   ///< also read at rest on the cup's bottom
  std::string name = "";  ///< rows of one name are the same body
};

struct Sitting {
  std::vector<bilancetta::Piece> pieces;  ///< in order of weighing
  std::vector<double> density, mass_g;    ///< true
  double liquid_off = 0.0, zero_g = 0.0, drift_g = 0.0, gain = 0.0;
};
Sitting simulated_sitting(const World& world, const std::vector<Body>& bodies, std::mt19937_64& random);

/// How many pieces of unknown density there are, and of how many the band holds it.
struct Held {
  int pieces = 0, held = 0;
};
Held held_of(const Sitting& sitting, const bilancetta::SittingResult& result);

/// Adds `times` the reading's own standard deviation (step, noise, linearity; in the liquid also meniscus and bubbles)
/// to the dry weight or to the reading in the liquid.
void add_blunder(bilancetta::Piece& piece, bool dry, double times);

}  // namespace testing
