#include "bent_steps.hpp"

#include <cmath>

#include "bilancetta/density_grid.hpp"

namespace bilancetta
{

namespace
{

// Whether the place of a draw departs by more than that from what its neighbours tell.
bool bends(const float* place, float most)
{
  return std::abs(place[-2] + place[2] - 4.0F * (place[-1] + place[1]) + 6.0F * place[0]) > most;
}

// Whether any does of those that have two draws with mass on both sides.
bool any_bends(const float* place, LineSet::Filled draws, float most)
{
  int count = 0;
  for (int draw = draws.first + 2; draw < draws.end - 1; ++draw) {
    count += bends(place + draw, most) ? 1 : 0;
  }
  return count > 0;
}

}  // namespace

BentSteps bent_steps_of(Draws& draws, const std::vector<float>& place, int constituent)
{
  const Hypothesis& hypothesis = draws.hypothesis();
  const auto most = static_cast<float>(hypothesis.scatter / density_grid::spacing);
  BentSteps bent;
  for (const LineSet::Filled& filled : draws.set().filled) {
    if (!any_bends(place.data(), filled, most)) {
      continue;
    }
    bool before = false;
    for (int draw = filled.first; draw < filled.end; ++draw) {
      // The end of this step, which is the next draw.
      const bool after = draw > filled.first && draw + 2 < filled.end && bends(&place[draw + 1], most);
      if (before || after) {
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
