#pragma once

#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// What the answer rests on: weight, tests, place and what the jar taught are left out in turn, and the change of the
/// build probabilities is looked at (docs/method.md, section 8). Says so where even odds would put another explanation
/// first.
void add_leanings(const Tables& tables, const Piece& piece, Verdict& verdict);

}  // namespace bilancetta
