#pragma once

#include <optional>
#include <string>
#include <vector>

#include "answer_book.hpp"

namespace bilancetta
{

/// The answers that were given, of one piece or of all rows that have the same, with their odds. What a number says is
/// nearly every row's own, so it is left out here.
class GivenAnswers
{
 public:
  /// The book must outlive it.
  GivenAnswers(const AnswerBook& book, const Answers& answers);

  [[nodiscard]] std::size_t size() const { return all_.size(); }
  [[nodiscard]] const AnswerBook::Test& test(std::size_t i) const { return *all_[i].test; }
  [[nodiscard]] const std::string& property(std::size_t i) const { return test(i).row->property; }
  [[nodiscard]] bool is_number(std::size_t i) const { return !all_[i].odds; }
  /// P(case of the facts) before any answer.
  [[nodiscard]] const ByFacts& facts_before() const { return before_; }
  /// P(this answer | case of the facts) of a member; not of a number.
  [[nodiscard]] ByFacts odds(std::size_t i, std::size_t member) const { return all_[i].odds->of(member); }
  /// P(this answer) of each member; empty for a number.
  [[nodiscard]] const std::vector<float>& alone(std::size_t i) const { return all_[i].alone; }
  /// P(all that are words) of each member, as if they were independent given the facts.
  [[nodiscard]] const std::vector<float>& words_together() const { return words_together_; }
  /// Answers that no piece can give together, in words; empty if there are none: sides that look alike have one colour.
  /// White and grey are not held to be two.
  [[nodiscard]] const std::string& impossible_words() const { return impossible_words_; }

 private:
  struct Given {
    const AnswerBook::Test* test;
    std::optional<OddsSheets::Column> odds;
    std::vector<float> alone;
  };
  ByFacts before_;
  std::vector<Given> all_;
  std::vector<float> words_together_;
  std::string impossible_words_;
};

}  // namespace bilancetta
