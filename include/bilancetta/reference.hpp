#pragma once

#include <string>

#include "bilancetta/analysis.hpp"

namespace bilancetta
{

/// Fine silver, g/cm3, as the tables have it: what a bench is asked about where no other metal is named.
inline constexpr double silver_g_cm3 = 10.49;

enum class BenchState { trustworthy, not_trustworthy, too_coarse };
std::string_view name_of(BenchState state);

/// A piece of known density weighed to see whether the set-up can be trusted.
struct ReferenceCheck {
  double expected_reading_g = 0.0;  ///< what the piece should have read
  double e_n = 0.0;                 ///< (measured - known) / expanded uncertainty of the difference (ISO/IEC 17043)
  double caught_mg = 0.0;           ///< displacement error that the check would have caught 4 times in 5
  double effect = 0.0;              ///< relative error of density which that makes on a 1 g silver piece
  double own_u = 0.0;               ///< relative standard uncertainty of such a piece, weighed once on this scale
  BenchState state = BenchState::too_coarse;
  std::string words;
};
/// Trustworthy if |E_n| is at most 1 and an error it would have missed is at most twice the own standard uncertainty of
/// a 1 g silver piece; else it is too coarse to check, or not trustworthy. Expanded uncertainties with k = 2.
/// The piece must have a reference density and a displacement above 0.
ReferenceCheck reference_check_of(const Analysis& analysis, const Piece& piece);

}  // namespace bilancetta
