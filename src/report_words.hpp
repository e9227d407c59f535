#pragma once

#include <string>

#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// Breaks text at blanks before column 79; following lines stand in by `indent`; ends with a line end.
std::string wrapped(const std::string& text, std::size_t indent = 0, const std::string& first = "");
/// "64 %", "<1 %", ">99 %".
std::string percent(double probability);
/// "3.2 mg", "1.4 g", "2 kg", "none".
std::string grams(double g);
/// All cautions of urgency stop or care, each with the document that it rests on.
std::string caution_lines(const Verdict& verdict, std::string_view urgency);
/// All of urgency note, in a sentence each, the documents once at the end.
std::string note_lines(const Verdict& verdict);

}  // namespace bilancetta
