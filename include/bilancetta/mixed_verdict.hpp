#pragma once

#include <string>
#include <vector>

#include "bilancetta/mixed_heap.hpp"
#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// Unlike pieces weighed together: their mean density and size, as weigh_up. `explained` is whether any density in the
/// range reads like this, its likelihood at least 0.036 of the highest (2.6 standard uncertainties off, 1 % of all
/// readings). Hollow or filled ware may be as light as it likes. @throws Error as check(weighing).
Analysis weigh_up_mixed(const MixtureRange& range, const Piece& piece, double level);

/// What a person reads of such a heap: the opening sentence, what is wrong with the readings, the one thing to do.
std::string mixed_sentence(const Analysis& analysis);
std::vector<std::string> mixed_warnings_of(const Analysis& analysis, const Piece& piece);
std::string mixed_next_step(const Analysis& analysis);

}  // namespace bilancetta
