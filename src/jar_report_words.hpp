#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bilancetta/jar.hpp"

namespace bilancetta
{

// Words that the text and the JSON of a jar share.

std::string pieces(long n);

/// "9510 to 10700", outwards, with no more digits than the draws bear. @param unit  grams to one of what is told
std::string total_range(const TotalBand& total, double unit = 1.0);
/// What is true of a median, "as likely more as less than 9980 g", and the mean where that is far from it.
std::string middle_words(const TotalBand& total, const char* unit);

/// Pieces of the jar of which no metal is in its totals: unlike ones weighed together, hollow ones, and those that
/// nothing fits.
struct LeftOut {
  long pieces = 0;
  double mass_g = 0.0;
};
LeftOut left_out_of(const JarSummary& summary);
/// Whether it may be told what the jar was worth buying for: every metal has a price, and little of the jar is left
/// out, could not be used or is a guess.
bool tells_bargain(const JarSummary& summary);

/// A caution of the jar, why it is shown, and for how many pieces; 0 if it belongs to a place or a drop.
struct JarCaution {
  const Caution* caution;
  Urgency urgency;
  std::string why;
  long pieces;
};
/// Most urgent first.
std::vector<JarCaution> cautions_in(const Tables& tables, const JarSummary& summary);

/// The one test that is proposed, if it is one: to pool like pieces is none.
struct JarStep {
  const BenchTest* test;
  std::string words;
  bool may_hold_cadmium;
};
std::optional<JarStep> step_in(const Tables& tables, const JarSummary& summary);

}  // namespace bilancetta
