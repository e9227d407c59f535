#pragma once

#include <array>
#include <cstdint>
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
  [[nodiscard]] int columns() const { return static_cast<int>(answers_.size()); }
  /// Adds `mass` times the odds of all answers, `columns()` of them, of a member when the facts are weighed like this
  /// (summing to 1).
  void add_odds(std::size_t member, const ByFacts& facts, float mass, float* out) const;
  /// The same when no test has been answered yet.
  void add_odds(std::size_t member, bool reagent_checked, float mass, float* out) const;

  /// A test not yet made, with answers that may tell of the same metal as it would.
  struct Coupled {
    struct Told {
      int first, answer;  ///< first column of that test, and which of its answers
    };
    int first, count;  ///< columns of the test not yet made
    std::vector<Told> told;
    /// Of each member, case by case of the facts: bit k if told[k] is about the metal that the test would see.
    std::vector<std::array<std::uint8_t, fact_cases>> of_one_metal;
  };
  [[nodiscard]] std::vector<Coupled> coupled_to(const Answers& answers) const;
  /// Makes odds added by add_odds those given the answers that tell of the same metal: they agree more often than by
  /// chance, as agreement_of (bench_test.hpp) has it.
  void add_agreement(std::size_t member, const ByFacts& facts, float mass, const Coupled& coupled, float* out) const;

  /// P(case of the facts) before any answer.
  [[nodiscard]] ByFacts facts_before(bool reagent_checked) const;
  /// P(answer to a test | case of the facts) of each of these members.
  [[nodiscard]] std::vector<ByFacts> odds_of(const std::string& test, const std::string& answer,
                                             const std::vector<std::size_t>& members) const;
  /// For each member, P(case of the facts and the answers given); its sum is BenchOdds::likelihood.
  [[nodiscard]] std::vector<ByFacts> facts_given(const Answers& answers) const;
  [[nodiscard]] const Test& test_called(const std::string& key) const;

 private:
  /// -1 for a number, each of which has odds of its own.
  static int column_of(const Test& test, const std::string& answer);
  [[nodiscard]] AnswerOdds answer_odds(const Test& test, const std::string& answer) const;
  [[nodiscard]] const float* odds(std::size_t member, int facts) const
  {
    return &odds_[(member * fact_cases + static_cast<std::size_t>(facts)) * answers_.size()];
  }
  const Tables* tables_;
  std::vector<const Member*> members_;
  std::string reagent_;
  std::vector<Test> tests_;
  std::vector<AnswerOdds> answers_;               // by column
  std::vector<float> odds_;                       // member, case, column
  std::array<std::vector<float>, 2> unanswered_;  // member, column; by reagent_checked
};

}  // namespace bilancetta
