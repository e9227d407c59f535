#pragma once

#include <vector>

#include "bent_steps.hpp"

namespace bilancetta
{

/// The draws of a hypothesis with the share of one constituent at each.
struct SharePoints {
  const LineSet* set = nullptr;
  double scatter = 0.0;             ///< relative standard deviation of the density about a draw's
  std::vector<float> place, share;  ///< of each draw; place among the nodes of the grid
  BentSteps bent;                   ///< with shares
};

}  // namespace bilancetta
