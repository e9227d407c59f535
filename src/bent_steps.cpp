#include "bent_steps.hpp"

#include <cmath>

#include "bilancetta/density_grid.hpp"

namespace bilancetta
{

BentSteps bent_steps_of(Draws& draws, const std::vector<float>& place, int constituent)
{
  const Hypothesis& hypothesis = draws.hypothesis();
  const LineSet& set = draws.set();
  const auto most = static_cast<float>(hypothesis.scatter / density_grid::spacing);
  BentSteps bent;
  for (int first = 0; first < set.lines * set.nodes; first += set.nodes) {
    bool before = false;
    for (int node = 0; node + 1 < set.nodes; ++node) {
      const int draw = first + node;
      // The end of this step needs two draws with mass on both sides.
      const float* end = &place[draw + 1];
      const bool amid =
          node >= 1 && node + 3 < set.nodes && set.weights[draw - 1] > 0.0F && set.weights[draw + 2] > 0.0F;
      const bool after = amid && std::abs(end[-2] + end[2] - 4.0F * (end[-1] + end[1]) + 6.0F * end[0]) > most;
      if ((before || after) && set.weights[draw] > 0.0F) {
        const Outcome<Four> quarters = draws.quarters(draw);
        bent.draws.push_back(draw);
        bent.places.push_back(places_of(quarters));
        if (constituent >= 0) {
          bent.shares.push_back(fraction_of(hypothesis, quarters, constituent));
        }
      }
      before = after;
    }
  }
  return bent;
}

}  // namespace bilancetta
