#pragma once

#include "bilancetta/analysis.hpp"
#include "draws.hpp"

namespace bilancetta
{

/// Draws of a member as the weighing leaves them, eight of a line at a time; weights sum to 1. `use` gets what the
/// hypothesis is there, the weights and how many of the eight there are.
template <typename Use>
void for_each_weighed_draw(const Member& member, const DrawWeights& draws, Use use)
{
  constexpr float negligible = 1e-8F;
  Draws all(member.hypothesis, member.fine);
  const int nodes = all.set().nodes;
  int line = -1;
  int count = 0;
  Lanes steps(0.0);
  Lanes masses(0.0);
  const auto use_those = [&] {
    if (count > 0) {
      use(all.outcomes_at(line, steps), masses, count);
    }
    count = 0;
  };
  for (const WeighedDraw& draw : draws.of(member)) {
    if (draw.mass <= negligible) {
      continue;
    }
    if (count == Lanes::count || draw.draw / nodes != line) {
      use_those();
      line = draw.draw / nodes;
    }
    steps.value[count] = static_cast<float>(draw.draw - line * nodes) + draw.along;
    masses.value[count++] = draw.mass;
  }
  use_those();
}

/// Adds the first so many of eight.
inline void add(ShareHistogram& histogram, const Lanes& shares, const Lanes& masses, int count)
{
  for (int k = 0; k < count; ++k) {
    histogram.add(shares.value[k], masses.value[k]);
  }
}

}  // namespace bilancetta
