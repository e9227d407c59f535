#pragma once

#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// The families expected most at this place that the weight or the tests have made improbable, each with the reading
/// it would have given. The verdict has its analysis and background.
void add_ruled_out(const Tables& tables, const Piece& piece, Verdict& verdict);

}  // namespace bilancetta
