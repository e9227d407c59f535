#pragma once

#include <string>
#include <utility>
#include <vector>

#include "bilancetta/hypothesis.hpp"
#include "bilancetta/tables.hpp"

namespace bilancetta {

/// What was seen at the bench. Answers are checked against the test's row.
struct Answers {
  std::vector<std::pair<std::string, std::string>> given;  ///< test key, answer (a number for conductivity)
  std::string reagent = "chromate";                        ///< chromate, nitric, other
  bool reagent_checked = false;                            ///< it was tried on a known piece
};

/// Adds one answer, by any accepted name of test and answer ("none" for no-pull or no-reaction, "red"
/// for copper). @throws Error (unknown_key, bad_option) for unknown names, a second answer to the
/// same test, or a conductivity outside 0.1 to 110 %IACS.
void add_answer(const Tables& tables, Answers& answers, const std::string& test, const std::string& answer);

/// P(answers | hypothesis). Answers are independent given the hypothesis and three yes/no facts: the
/// notch went through the coat, the reagent works, the skin is clean; summed over the eight cases.
/// A coat hides the core from a test of the skin and not from a notch; a notch in the face of an
/// inlay shows the face; for the open mix every answer is equally likely.
double likelihood_of(const Tables& tables, const Answers& answers, const Hypothesis& hypothesis);

/// Answers a test may have when it is proposed; for conductivity a few typical readings.
std::vector<std::string> possible_answers(const BenchTest& test);

}  // namespace bilancetta
