#pragma once

#include <optional>
#include <vector>

#include "bilancetta/sitting.hpp"

namespace bilancetta
{

/// Dark uncertainty: standard deviation that readings in the liquid of a sitting have besides all that the bench was
/// said to err, g. 0 unless they fail the overall model test at 1 % (Baarda 1968, as Teunissen, "Testing Theory", 2000,
/// has it); then by moments, the mean being 0 (DerSimonian and Laird, "Meta-analysis in clinical trials", Controlled
/// Clinical Trials 7 (1986) 177; Thompson and Ellison, "Dark uncertainty", Accred. Qual. Assur. 16 (2011) 483; from
/// memory). Readings that were left out count as slips, unless they are too many for that.
double dark_u_of(const std::vector<CheckedReading>& readings);

/// Readings in the liquid that are all off by about as much from one row on, or up to one row.
struct MovedZero {
  long row = 0;       ///< the first of them, or the last
  bool after = true;  ///< from there on, else up to there
  double off_g = 0.0;
};
/// Three or more that do not fit well, at least three quarters of those on their side of the row and none on the other.
std::optional<MovedZero> moved_zero_of(const std::vector<CheckedReading>& readings);

}  // namespace bilancetta
