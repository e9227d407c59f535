#pragma once

#include <string>
#include <vector>

#include "bilancetta/analysis.hpp"

namespace bilancetta
{

/// The question the next test should answer.
enum class Question { build, silver, cadmium, claim };
/// @throws Error (unknown_key) for another word.
Question question_called(std::string_view name);

/// A bench test not yet done and what each of its answers would say, given those already there.
struct Proposal {
  const BenchTest* test = nullptr;
  std::vector<std::vector<double>> likelihood;  ///< answer x member: P(answers so far and this one | H)
};
/// For the members that are listed; others stay 0.
std::vector<Proposal> proposals_for(const Tables& tables, const std::vector<const Member*>& members,
                                    const Answers& answers, const std::vector<int>& listed);

/// A test worth doing.
struct NextTest {
  std::string key, step;
  double bits = 0.0;   ///< expected information on the question
  double value = 0.0;  ///< bits for the effort
  double doubt = 0.0;  ///< entropy of the question now, bits
  bool marks = false;
  std::string caution;  ///< key, or empty
};
/// What a member would answer to a question: its build, or 1 for yes.
int answer_class(const Tables& tables, const Member& member, Question question, const Claim* claim);
/// Entropy of masses that need not sum to 1, bits.
double entropy_bits(const std::array<double, 4>& mass);
/// Information for the effort.
double value_of(double bits, const BenchTest& test);
/// How open a question is, bits.
double doubt_of(const Tables& tables, const Analysis& analysis, const std::vector<int>& plausible, Question question,
                const Claim* claim);
/// The question that is most open: the claim if there is one, else of build, silver and cadmium.
Question most_open_question(const Tables& tables, const Analysis& analysis, const std::vector<int>& plausible,
                            const Claim* claim);

/// Best value (bits for the effort) first; tests that leave a mark only if allowed.
std::vector<NextTest> next_tests_of(const Tables& tables, const Analysis& analysis, const Background& background,
                                    const std::vector<Proposal>& proposals, const std::vector<int>& plausible,
                                    Question question, const Claim* claim, bool marks_allowed);

/// Key of the test that would best tell this member's build and family from all else that is plausible, for the
/// effort; empty if none says much.
std::string telling_test_of(const Tables& tables, const Analysis& analysis, const Background& background,
                            const std::vector<Proposal>& proposals, const std::vector<int>& plausible, int member,
                            bool marks_allowed);

}  // namespace bilancetta
