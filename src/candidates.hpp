#pragma once

#include "fractions.hpp"

namespace bilancetta
{

/// Candidates (at least five, or all above 1 %) with their fits and own bands, and what was ruled out. Returns what
/// the bands of fractions came from, candidate by candidate.
std::vector<CandidateShares> add_candidates(const Tables& tables, const Piece& piece, const VerdictOptions& options,
                                            const std::vector<int>& plausible, Verdict& verdict);

}  // namespace bilancetta
