#pragma once

#include <string>

#include "bilancetta/hypothesis.hpp"

namespace bilancetta
{

/// By its materials: "fine silver face on electrolytic copper". The open mix names its constituents.
std::string hypothesis_words(const Tables& tables, const Hypothesis& hypothesis);
/// By their families, the level a person thinks in: "silver face on a copper base".
std::string family_words(const Tables& tables, const Hypothesis& hypothesis);

}  // namespace bilancetta
