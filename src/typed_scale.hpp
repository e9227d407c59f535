#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bilancetta/piece_text.hpp"

namespace bilancetta
{

/// A sentence for each scale that was named and could not have shown one of its readings: such as is no multiple of
/// its step.
std::vector<std::string> doubts_of_steps(const PieceText& text, const Weighing& weighing);

/// The step of the scale that these texts name, if they name one that there is.
std::optional<double> named_step_g(const PieceText& text);

}  // namespace bilancetta
