#pragma once

#include <string>

#include "bilancetta/density.hpp"

namespace bilancetta
{

/// Combined standard uncertainty of the budget (first order), g/cm3; 0 if nothing was displaced.
double combined_u(const Weighing& weighing);

/// What would help this weighing most.
struct Remedy {
  std::string words;  ///< "weigh 12 like pieces together", "use a 0.001 g scale", "boil and soap the piece", ...
  double standard_uncertainty = 0.0;  ///< g/cm3 that it would leave
};
/// The remedy that leaves least, of: ten like pieces together, the next finer scale, five repeats, soap or boiling,
/// a thermometer in the water. `words` is empty if none takes off a fifth.
Remedy best_remedy(const Weighing& weighing);

}  // namespace bilancetta
