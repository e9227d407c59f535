#pragma once

#include <string>
#include <vector>

#include "bilancetta/jar.hpp"

namespace bilancetta
{

/// Words that the text and the JSON of a jar share.

std::string pieces(long n);

/// A caution of the jar, why it is shown, and for how many pieces; 0 if it belongs to a place or a drop.
struct JarCaution {
  const Caution* caution;
  std::string urgency, why;
  long pieces;
};
/// Most urgent first.
std::vector<JarCaution> cautions_in(const Tables& tables, const JarSummary& summary);

}  // namespace bilancetta
