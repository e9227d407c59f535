#pragma once

#include <vector>

#include "bent_steps.hpp"
#include "bilancetta/density_grid.hpp"

namespace bilancetta
{

/// The density that a hypothesis predicts: probability per g/cm3 on the grid, its scatter included.
/// @param place  position of each of the draws among the nodes of the grid
GridFunction drawn_density_of(const Draws& draws, const std::vector<float>& place, const BentSteps& bent);

}  // namespace bilancetta
