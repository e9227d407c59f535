#pragma once

#include <array>
#include <string>
#include <vector>

#include "batch_context.hpp"
#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// What a batch row says of a piece: the part of a Verdict that fits its columns, found without its sentences.
struct RowVerdict {
  Analysis analysis;
  std::vector<int> plausible;                ///< members that hold all but 0.2 % of the probability, likeliest first
  double mass_g = 0.0;                       ///< of all pieces
  Band silver;                               ///< mass fraction
  std::array<double, 3> other_precious_g{};  ///< expected grams of Au, Pd and Pt
  Pile pile = Pile::undecided;
  std::vector<int> cautions;  ///< indices of those plausible, the most urgent first
  std::string next;           ///< key of the best next test, `pool`, or empty
};

/// `plausible` stays empty if no hypothesis gives such a weighing, and then only the density is there.
RowVerdict row_verdict_of(const Prepared& prepared, const BatchContext& context, const Piece& piece,
                          const VerdictOptions& options);

}  // namespace bilancetta
