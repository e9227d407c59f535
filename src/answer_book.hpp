#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "bilancetta/bench_test.hpp"
#include "bilancetta/posterior.hpp"
#include "conductivity.hpp"
#include "odds_sheets.hpp"

namespace bilancetta
{

/// The odds of every possible answer of every test for every hypothesis, case by case of the facts: looked up once for
/// all rows of a batch, for one drop.
class AnswerBook
{
 public:
  AnswerBook(const Tables& tables, const Members& members, const std::string& reagent);
  AnswerBook(const AnswerBook&) = delete;  // tests are pointed to
  AnswerBook& operator=(const AnswerBook&) = delete;

  struct Test {
    const BenchTest* row;
    std::vector<AnswerOdds> answers;
    OddsSheets::Place place;
    [[nodiscard]] int first() const { return place.first; }  ///< column
    [[nodiscard]] int count() const { return static_cast<int>(answers.size()); }
  };
  [[nodiscard]] const std::vector<Test>& tests() const { return tests_; }
  /// Some belong to no test.
  [[nodiscard]] int columns() const { return sheets_.columns(); }
  /// Facts of each member, weighed (each summing to 1) as add_odds wants them.
  [[nodiscard]] std::vector<float> weighed(const std::vector<ByFacts>& facts) const;
  /// Adds `mass` times the odds of all answers, `columns()` of them, of a member. @param weighed  of all members
  void add_odds(std::size_t member, const std::vector<float>& weighed, float mass, float* out) const
  {
    sheets_.add(member, &weighed[member * static_cast<std::size_t>(sheets_.rows())], mass, out);
  }
  void add_odds(std::size_t member, const ByFacts& facts, float mass, float* out) const;
  /// The same when no test has been answered yet.
  void add_odds(std::size_t member, bool reagent_checked, float mass, float* out) const;

  /// A test not yet made, with answers that may tell of the same metal as it would.
  struct Coupled {
    struct Told {
      const Test* test;
      int answer;  ///< which of its answers
      int here;    ///< the same word among the answers of the test not yet made; -1: it has none such
      int word;    ///< the same number for the same word
    };
    const Test* test;
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
  /// Which of the test's answers; -1 for a number, each of which has odds of its own.
  static int place_of(const Test& test, const std::string& answer);
  [[nodiscard]] std::size_t members() const { return members_.size(); }
  /// P(that answer of a test | case of the facts) of each member, as long as the book lasts.
  [[nodiscard]] OddsSheets::Column odds(const Test& test, int answer) const
  {
    return sheets_.column(test.place, answer);
  }
  /// Adds `mass` times the odds of each answer to a test for a member, the facts weighed like this.
  void add_odds_of(const Test& test, std::size_t member, const ByFacts& facts, float mass, float* out) const;
  /// Multiplies the likelihood of each member by that of the number that answers a test.
  void multiply_by_number(const std::string& test, const std::string& answer, std::vector<double>& likelihood) const;
  /// For each member, P(case of the facts and the answers given, which are words); its sum is BenchOdds::likelihood.
  [[nodiscard]] std::vector<ByFacts> facts_given(const Answers& answers) const;
  [[nodiscard]] const Test& test_called(const std::string& key) const;

 private:
  const Tables* tables_;
  std::vector<const Member*> members_;
  std::vector<Test> tests_;
  OddsSheets sheets_;
  std::array<std::vector<float>, 2> unanswered_;                // member, column; by reagent_checked
  std::map<std::string, std::vector<ConductivityOdds>> meter_;  // of each member, by the test that is told as a number
};

}  // namespace bilancetta
