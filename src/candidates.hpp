#pragma once

#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// How the mass fractions of one candidate's own constituents are distributed.
struct CandidateShares {
  int member = -1;
  std::vector<int> constituents;
  std::vector<ShareHistogram> shares;  ///< of each constituent; each sums to 1
};

/// Candidates (at least five, or all above 1 %) with their fits and own bands, and what was ruled out. Returns what
/// the bands of fractions came from, candidate by candidate.
std::vector<CandidateShares> add_candidates(const Tables& tables, const Piece& piece, const VerdictOptions& options,
                                            const std::vector<int>& plausible, Verdict& verdict);

/// How the mass fraction of each constituent of the tables is distributed, averaged over the plausible hypotheses.
/// @param known  of some hypotheses, as add_candidates returned them: these are not drawn again
std::vector<ShareHistogram> fraction_histograms(const Tables& tables, const Analysis& analysis,
                                                const std::vector<int>& plausible,
                                                const std::vector<CandidateShares>& known = {});
/// Grams of a constituent with this mass fraction; the uncertainty of the verdict's mass widens each side.
Band grams_of(const Verdict& verdict, const Band& fraction);

/// Fractions and grams of precious metal, averaged over the plausible hypotheses.
void add_fractions(const Tables& tables, double level, const std::vector<int>& plausible,
                   const std::vector<CandidateShares>& known, Verdict& verdict);

}  // namespace bilancetta
