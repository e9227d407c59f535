#pragma once

#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// Fills what a person reads: the opening sentence, the reasons, and the one thing to do.
void add_sentences(const Tables& tables, const Piece& piece, Verdict& verdict);

/// An explanation at the level a person thinks in: families and how they are put together.
struct Explanation {
  std::string words;  ///< "silver face on a copper base"
  double probability = 0.0;
};
/// Likeliest first; shares of all plausible hypotheses.
std::vector<Explanation> explanations_of(const Tables& tables, const Analysis& analysis);

/// "almost certainly", "very likely", "fairly sure", ... for a probability.
std::string_view sureness(double probability);

}  // namespace bilancetta
