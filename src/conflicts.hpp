#pragma once

#include <string>
#include <vector>

#include "answer_book.hpp"
#include "bilancetta/analysis.hpp"

namespace bilancetta
{

/// Are all answers together as likely as a tenth of the pieces that weigh so? Then none can be in conflict with
/// another: the chance of each beside others is no smaller.
bool expected_together(const Analysis& analysis, const Background& background);

/// Answers that the weight hardly allows (fewer than 4 in 100 such pieces), and pairs that contradict each other: given
/// either, the other is less than a tenth as likely as the likeliest answer to its test. As sentences.
/// @param book  for the drop that was used
std::vector<std::string> conflicts_of(const AnswerBook& book, const Analysis& analysis, const Background& background,
                                      const Answers& answers);

}  // namespace bilancetta
