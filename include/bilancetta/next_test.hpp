#pragma once

#include <string>
#include <vector>

#include "bilancetta/analysis.hpp"

namespace bilancetta
{

/// The question the next test should answer.
/// Precious: gold, palladium or platinum, more than a film of it.
enum class Question { build, silver, cadmium, precious, claim };
/// @throws Error (unknown_key) for another word.
Question question_called(std::string_view name);

/// A bench test not yet done and what each of its answers would say, given those already there.
struct Proposal {
  const BenchTest* test = nullptr;
  std::vector<std::vector<double>> likelihood;  ///< answer x member: P(answers so far and this one | H)
};
/// For the members that are listed; others stay 0.
std::vector<Proposal> proposals_for(const Tables& tables, const Members& members, const Answers& answers,
                                    const std::vector<int>& listed);

/// A test, or a sharper weighing, worth doing.
struct NextTest {
  std::string key, step;
  double bits = 0.0;   ///< expected information on the question
  double value = 0.0;  ///< bits for the effort
  double doubt = 0.0;  ///< entropy of the question now, bits
  bool marks = false;
  std::vector<std::string> cautions{};  ///< keys, gravest first: cadmium that it may set free, then chromium(VI)
  [[nodiscard]] std::string caution() const { return cautions.empty() ? std::string() : cautions.front(); }
  double least = 0.0;        ///< bits from which it is proposed
  bool is_weighing = false;  ///< key is then that of a SharperWeighing and not that of a test
};
/// What a member would answer to a question: its build, or 1 for yes.
inline constexpr int answer_classes = 4;
int answer_class(const Members& members, std::size_t which, Question question, const Claim* claim);
/// "settles it" if it is expected to take off 80 % of the doubt or more, "halves the doubt" from 40 %, else
/// "helps a little" (judgement).
std::string_view help_of(const NextTest& test);

/// Which of the question's (at most four) answers each of the listed hypotheses is.
std::vector<int> answer_classes_of(const Analysis& analysis, const std::vector<int>& listed, Question question,
                                   const Claim* claim);
/// How open a question is, bits.
double doubt_of(const Analysis& analysis, const std::vector<int>& plausible, Question question, const Claim* claim);
/// The question that is most open: the claim if there is one, else of build, silver, cadmium and precious.
Question most_open_question(const Analysis& analysis, const std::vector<int>& plausible, const Claim* claim);

/// Best value (bits for the effort) first; tests that leave a mark only if allowed.
std::vector<NextTest> next_tests_of(const Analysis& analysis, const Background& background,
                                    const std::vector<Proposal>& proposals, const std::vector<int>& plausible,
                                    Question question, const Claim* claim, bool marks_allowed);

/// Expected information on the question from weighing again, bits: the present posterior of hypothesis and density
/// (posterior x curve x predicted density) is put through one more observation of ln(density) with this relative
/// standard deviation, by sums over the grid of densities (Lindley 1956; docs/method.md section 12).
double expected_bits_of_observation(const Analysis& analysis, const std::vector<int>& plausible, Question question,
                                    const Claim* claim, double relative_sd);
/// Sharper weighings (remedy.hpp) by what they would tell, best value first. The errors that both weighings share count
/// once: the observation that is added has the precision that the sharper budget has more than the present one. Empty
/// if the readings give no density.
std::vector<NextTest> next_weighings_of(const Analysis& analysis, const std::vector<int>& plausible, Question question,
                                        const Claim* claim, const Weighing& weighing);
/// What is expected to tell less is not proposed, bits (judgement): of a drop, which is poisonous waste, more is asked.
inline constexpr double least_bits = 0.02;
double least_bits_of(const BenchTest& test);
/// Tests and weighings together that are worth proposing, best value first.
std::vector<NextTest> next_steps_of(std::vector<NextTest> tests, std::vector<NextTest> weighings);

/// Lowest probability of a hazard, by its caution's key, that any answer to any of the proposals would leave.
double lowest_hazard_after(const Tables& tables, const Analysis& analysis, const Background& background,
                           const std::vector<Proposal>& proposals, const std::vector<int>& plausible,
                           const std::string& caution);

/// Key of the test that would best tell this member's build and family from all else that is plausible, for the
/// effort; empty if none says much.
std::string telling_test_of(const Tables& tables, const Analysis& analysis, const Background& background,
                            const std::vector<Proposal>& proposals, const std::vector<int>& plausible, int member,
                            bool marks_allowed);

}  // namespace bilancetta
