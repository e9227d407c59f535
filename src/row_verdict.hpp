#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "batch_row.hpp"

namespace bilancetta
{

/// What a batch row says of a piece: the part of a Verdict that fits its columns, found without its sentences.
struct RowVerdict {
  Analysis analysis;
  std::vector<int> plausible;  ///< members that hold all but 0.2 % of the probability, likeliest first; what they leave
                               ///< out takes no caution and no pile away, and widens the silver band
  Mass mass;                   ///< of all pieces
  Band silver, silver_g;       ///< mass fraction, and in all pieces
  // Only if totals are wanted: silver of each plausible member, and its mean over all.
  std::vector<ShareMoments> silver_each;
  double silver_mean = 0.0;
  std::array<double, 3> other_precious_g{};  ///< expected grams of Au, Pd and Pt
  double cadmium = 0.0;                      ///< probability that it counts as cadmium
  StepLimits limits;                         ///< what it may still be put to
  Pile pile = Pile::undecided;
  std::vector<std::string> conflicts;
  std::vector<std::string> of_sitting;      ///< remarks_on_row, left to the caller
  std::vector<int> cautions;                ///< indices of those plausible, the most urgent first
  std::string next;                         ///< key of the best next test, `pool`, or empty
  std::optional<ReferenceCheck> reference;  ///< of a piece of known density
};

/// What is to be said of a row beside its columns, in sentences: the check of a known piece, that nothing explains it,
/// answers that contradict each other, warnings, what does not fit the sitting; empty if nothing.
std::string message_of(const Tables& tables, const RowVerdict& verdict, const Piece& piece);

/// `plausible` stays empty if no hypothesis gives such a weighing, and then only the density is there.
/// @param line  row_of_piece: by which a jar that teaches knows the piece
RowVerdict row_verdict_of(const BatchShared& shared, const RowContext& context, const Piece& piece, long line);

/// How the mean silver moves with the density of the piece, per g/cm3: by the same readings with the curve moved a
/// little.
double slope_of_silver(const RowVerdict& row, const Background& background);

}  // namespace bilancetta
