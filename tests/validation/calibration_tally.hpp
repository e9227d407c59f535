#pragma once

// What calibration counts of each simulated piece.

#include <array>

#include "reliability.hpp"
#include "simulated_pieces.hpp"

namespace validation
{

/// The fractions that every verdict reports.
inline constexpr std::array<const char*, 5> reported = {"Ag", "Cu", "W", "CdO", "Ni"};

struct Tally {
  Reliability builds, first, candidates;
  std::array<Reliability, reported.size()> none;
  Coverage density, batch_silver, batch_grams, grams_open;
  Coverage own;  ///< fractions given the true hypothesis
  std::array<Coverage, reported.size()> bands, open_bands;
  RankHistogram batch_ranks;
  std::array<RankHistogram, reported.size()> ranks;
};

/// Draws a piece, weighs it, infers and counts; with `describe` all fractions too. `piece` holds the context.
void try_piece(const bilancetta::Prepared& prepared, const bilancetta::Background& background,
               const bilancetta::Scale& scale, double dry_g, bool describe, PieceSource& source,
               bilancetta::Piece& piece, Tally& tally);

}  // namespace validation
