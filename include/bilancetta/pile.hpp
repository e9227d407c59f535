#pragma once

#include <array>
#include <string_view>

#include "bilancetta/hypothesis.hpp"

namespace bilancetta
{

/// Where a piece goes when a jar is sorted. The first five follow from what it is made of.
enum class Pile {
  solid_silver,
  silver_on_base,
  tungsten_bearing,
  other_precious,
  base_metal,
  cadmium_suspect,
  undecided
};
inline constexpr int material_piles = 5;
std::string_view name_of(Pile pile);

/// The pile of pieces made like this; undecided for the open mix.
Pile pile_for(const Tables& tables, const Hypothesis& hypothesis);

/// How sure one must be before a piece is put on a pile (judgement).
struct PileThresholds {
  double cadmium = 0.10;  ///< from this probability of cadmium on, the piece is suspect
  double sure = 0.70;     ///< a pile needs this much, else the piece is undecided
};
/// @param mass     probability of each pile that a material decides
/// @param cadmium  probability that the piece holds cadmium
Pile pile_of(const std::array<double, material_piles>& mass, double cadmium, bool explained,
             const PileThresholds& thresholds);
/// Undecided instead if the piece is hollow or filled, if its answers contradict each other, or if the scale cannot see
/// it (its density has no upper bound); a suspect of the latter kinds stays one.
Pile unless_doubtful(Pile pile, bool hollow, bool contradicted, bool seen);

}  // namespace bilancetta
