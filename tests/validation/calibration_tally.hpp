#pragma once

// What calibration counts of each simulated piece.

#include <array>
#include <vector>

#include "bilancetta/verdict.hpp"
#include "reliability.hpp"
#include "simulated_pieces.hpp"

namespace validation
{

/// The fractions that every verdict reports.
inline constexpr std::array<const char*, 5> reported = {"Ag", "Cu", "W", "CdO", "Ni"};

struct Tally {
  Reliability builds, first, candidates;
  std::array<Reliability, reported.size()> none;
  Coverage density, batch_silver, batch_grams;
  Coverage own;  ///< fractions given the true hypothesis
  std::array<Coverage, reported.size()> bands;
  RankHistogram batch_ranks;
  std::array<RankHistogram, reported.size()> ranks;
  // Of pieces whose posterior has less than 0.1 % at exactly 0 or 1.
  Coverage open_batch_silver, open_grams;
  std::array<Coverage, reported.size()> open_bands;
  std::array<RankHistogram, reported.size()> open_ranks;
};

/// A piece and what is inferred of it.
struct Inferred {
  SimulatedPiece truth;
  bilancetta::Piece piece;
  bilancetta::Verdict verdict;  ///< analysis, mass and volume
  std::vector<int> plausible;   ///< empty: outside of all that is tabulated
};

/// Draws a piece, weighs it on a pocket or a jeweller's scale by turns, and infers.
Inferred inferred_piece(const bilancetta::Prepared& prepared, const bilancetta::Background& background,
                        PieceSource& source);

/// Probabilities, density and silver as batches give it.
void count_piece(const bilancetta::Tables& tables, const Inferred& inferred, PieceSource& source, Tally& tally);
/// All fractions, averaged over hypotheses and given the true one.
void count_fractions(const bilancetta::Tables& tables, Inferred& inferred, PieceSource& source, Tally& tally);
/// One of the reported fractions, if its posterior is open.
void count_open(const bilancetta::Tables& tables, const Inferred& inferred, std::size_t which, PieceSource& source,
                Tally& tally);

}  // namespace validation
