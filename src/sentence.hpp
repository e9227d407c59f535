#pragma once

#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// Fills what a person reads: the opening sentence, the reasons, and the one thing to do.
void add_sentences(const Tables& tables, const Piece& piece, bool may_mark, Verdict& verdict);

/// An explanation at the level a person thinks in: families and how they are put together.
struct Explanation {
  std::string words;  ///< "silver face on a copper base"
  double probability = 0.0;
  int member = -1;  ///< its likeliest hypothesis
};
/// Likeliest first; shares of all plausible hypotheses.
std::vector<Explanation> explanations_of(const Tables& tables, const Analysis& analysis);

/// Why: what the answer rests on, what a layered piece would be made of, what the rival would have read.
std::vector<std::string> reasons_of(const Tables& tables, const Piece& piece, const Verdict& verdict);

/// Where no metal weighs so (no_metal_weighs_so) that, and what to check; else empty.
std::string no_metal_words(const Analysis& analysis);
/// The one thing to do then.
inline constexpr std::string_view tare_again_words =
    "Tare the scale with the empty thread or cup in place, and weigh again.";

/// The last line: the one thing to do.
std::string one_thing_of(const Tables& tables, const Piece& piece, bool may_mark, const Verdict& verdict);
/// Keys of the cautions of a test that is proposed, gravest first: what a file or a drop takes off a piece that may
/// hold cadmium is the first care of that step. @param reagent  as in Answers
std::vector<std::string> cautions_of_step(const BenchTest& test, const std::string& reagent, bool may_hold_cadmium);
/// What to care for in a step that is proposed, each sentence after a blank.
/// @param said  keys of cautions whose text stands elsewhere
std::string care_of_step(const Tables& tables, const BenchTest& test, const std::string& reagent, bool may_hold_cadmium,
                         const std::vector<std::string>& said = {});
/// Whether it is hollow and from where switches with mercury come from: then nothing that opens or wets it is told of.
bool may_be_sealed_mercury(const Verdict& verdict);
/// "What would settle it: ...".
std::string settling_words(const ClaimVerdict& claim);
/// What the next test is to answer: "how it is made", "whether it holds silver", ...
std::string_view words_of(Question question);

/// The density, g/cm3, with the decimals that its uncertainty supports.
std::string density_text(const DensitySummary& density);
/// "64 %", "under 1 %", "over 99 %".
std::string percent_words(double probability);
/// "almost certainly", "very likely", "fairly sure", ... for a probability.
std::string_view sureness(double probability);

}  // namespace bilancetta
