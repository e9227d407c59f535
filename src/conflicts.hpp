#pragma once

#include <string>
#include <vector>

#include "bilancetta/analysis.hpp"
#include "bilancetta/step_limits.hpp"
#include "given_answers.hpp"

namespace bilancetta
{

/// Are all answers together so likely, beside each alone, that none can be in conflict with another? As conflicts_of
/// counts them, independent given the facts, P(all) is no more than P(some of them), and that no more than P(one of
/// them); a number's density counts as a part of its highest. So it is where P(all) is neither less than a tenth of the
/// second likeliest nor, if another property was asked for, less than 4 in 100 of the likeliest.
/// Takes what conflicts_of takes.
bool expected_together(const AnswerBook& book, const GivenAnswers& given, const Answers& answers,
                       const Analysis& analysis, const Background& background);

/// Answers that the weight hardly allows (fewer than 4 in 100 such pieces), and pairs that contradict each other: given
/// either, the other is less than a tenth as likely as the likeliest answer to its test. As sentences.
/// @param book   for the drop that was used
/// @param given  the same answers, whatever the numbers
/// @param limits  what is not to be tried again
std::vector<std::string> conflicts_of(const AnswerBook& book, const GivenAnswers& given, const Answers& answers,
                                      const Analysis& analysis, const Background& background, const StepLimits& limits);

}  // namespace bilancetta
