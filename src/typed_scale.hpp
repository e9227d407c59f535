#pragma once

#include <string>
#include <vector>

#include "bilancetta/piece_text.hpp"

namespace bilancetta
{

/// A sentence for each scale that was named and could not have shown one of its readings: such as is no multiple of
/// its step.
std::vector<std::string> doubts_of_steps(const PieceText& text, const Weighing& weighing);

}  // namespace bilancetta
