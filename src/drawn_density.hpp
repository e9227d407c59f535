#pragma once

#include <vector>

#include "bilancetta/density_grid.hpp"
#include "bilancetta/hypothesis.hpp"

namespace bilancetta
{

/// The density that a hypothesis predicts: probability per g/cm3 on the grid, its scatter included.
/// @param place  position of each of its draws among the nodes of the grid, in the order of `Draws`
GridFunction drawn_density_of(const Hypothesis& hypothesis, const std::vector<float>& place);

}  // namespace bilancetta
