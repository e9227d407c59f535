#include "bent_steps.hpp"

#include <cmath>
#include <cstring>

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

// Adds two steps of a line, or one that is given twice.
void add(Draws& draws, int line, const std::array<int, 2>& pair, int constituent, BentSteps& bent)
{
  const int start = line * draws.set().nodes;
  Lanes steps;
  for (int k = 0; k < Lanes::count; ++k) {
    steps.value[k] = static_cast<float>(pair[k / 4] - start) + 0.25F * static_cast<float>(1 + k % 4);
  }
  const Draws::Seen seen = draws.seen_at(line, steps, constituent);
  std::array<BentSteps::Quarters, 2> places;
  std::array<BentSteps::Quarters, 2> shares;
  static_assert(sizeof places == sizeof seen.place);
  std::memcpy(&places, &seen.place, sizeof places);
  std::memcpy(&shares, &seen.share, sizeof shares);
  for (int which = 0; which < (pair[0] == pair[1] ? 1 : 2); ++which) {
    bent.draws.push_back(pair[which]);
    bent.places.push_back(places[which]);
    bent.shares.push_back(shares[which]);
  }
}

}  // namespace

BentSteps bent_steps_of(Draws& draws, const std::vector<float>& place, int constituent)
{
  const auto most = static_cast<float>(draws.hypothesis().scatter / density_grid::spacing);
  BentSteps bent;
  for (int line = 0; line < draws.set().lines; ++line) {
    const LineSet::Filled& filled = draws.set().filled[line];
    if (!any_bends(place.data(), filled, most)) {
      continue;
    }
    bool before = false;
    int waits = -1;
    for (int draw = filled.first; draw < filled.end; ++draw) {
      // The end of this step, which is the next draw.
      const bool after = draw > filled.first && draw + 2 < filled.end && bends(&place[draw + 1], most);
      if (before || after) {
        if (waits < 0) {
          waits = draw;
        } else {
          add(draws, line, {waits, draw}, constituent, bent);
          waits = -1;
        }
      }
      before = after;
    }
    if (waits >= 0) {
      add(draws, line, {waits, waits}, constituent, bent);
    }
  }
  return bent;
}

}  // namespace bilancetta
