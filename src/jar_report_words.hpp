#pragma once

#include <string>
#include <vector>

#include "bilancetta/jar.hpp"

namespace bilancetta
{

/// Words that the text and the JSON of a jar share.

std::string pieces(long n);

/// "9510 to 10700", outwards, with no more digits than the draws bear. @param unit  grams to one of what is told
std::string total_range(const TotalBand& total, double unit = 1.0);
/// What is true of a median, "as likely more as less than 9980 g", and the mean where that is far from it.
std::string middle_words(const TotalBand& total, const char* unit);

/// A caution of the jar, why it is shown, and for how many pieces; 0 if it belongs to a place or a drop.
struct JarCaution {
  const Caution* caution;
  std::string urgency, why;
  long pieces;
};
/// Most urgent first.
std::vector<JarCaution> cautions_in(const Tables& tables, const JarSummary& summary);

}  // namespace bilancetta
