#pragma once

#include <array>
#include <map>
#include <string>
#include <vector>

#include "bilancetta/bench_test.hpp"
#include "bilancetta/posterior.hpp"

namespace bilancetta
{

/// Cases of the three facts (bench_test.hpp) that make a test mislead.
inline constexpr int fact_cases = 8;
using ByFacts = std::array<float, fact_cases>;

/// The odds of every possible answer of every test for every hypothesis, case by case of the facts: looked up once for
/// all rows of a batch, for one drop.
class AnswerBook
{
 public:
  AnswerBook(const Tables& tables, const Members& members, const std::string& reagent);

  struct Test {
    const BenchTest* row;
    int first, count;  ///< columns
  };
  [[nodiscard]] const std::vector<Test>& tests() const { return tests_; }
  [[nodiscard]] int columns() const { return columns_; }
  /// Adds `mass` times the odds of all answers, `columns()` of them, of a member when the facts are weighed like this
  /// (summing to 1).
  void add_odds(std::size_t member, const ByFacts& facts, float mass, float* out) const;
  /// The same when no test has been answered yet.
  void add_odds(std::size_t member, bool reagent_checked, float mass, float* out) const;

  /// P(case of the facts) before any answer.
  [[nodiscard]] ByFacts facts_before(bool reagent_checked) const;
  /// P(answer to a test | case of the facts) of each of these members.
  [[nodiscard]] std::vector<ByFacts> odds_of(const std::string& test, const std::string& answer,
                                             const std::vector<std::size_t>& members) const;
  /// For each member, P(case of the facts and the answers given); its sum is BenchOdds::likelihood.
  [[nodiscard]] std::vector<ByFacts> facts_given(const Answers& answers) const;
  [[nodiscard]] const Test& test_called(const std::string& key) const;

 private:
  [[nodiscard]] const float* odds(std::size_t member, int facts) const
  {
    return &odds_[(member * fact_cases + static_cast<std::size_t>(facts)) * static_cast<std::size_t>(columns_)];
  }
  const Tables* tables_;
  std::vector<const Member*> members_;
  std::string reagent_;
  int columns_ = 0;
  std::vector<Test> tests_;
  std::vector<float> odds_;                       // member, case, column
  std::array<std::vector<float>, 2> unanswered_;  // member, column; by reagent_checked
};

}  // namespace bilancetta
