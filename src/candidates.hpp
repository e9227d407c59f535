#pragma once

#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// Candidates (at least five, or all above 1 %) with their fits and own bands, and what was ruled out.
void add_candidates(const Tables& tables, const Piece& piece, double level, const std::vector<int>& plausible,
                    Verdict& verdict);

/// Fractions and grams of precious metal, averaged over the plausible hypotheses.
void add_fractions(const Tables& tables, double level, const std::vector<int>& plausible, Verdict& verdict);

}  // namespace bilancetta
