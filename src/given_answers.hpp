#pragma once

#include <cstdint>
#include <map>
#include <mutex>
#include <string>
#include <vector>

#include "answer_book.hpp"

namespace bilancetta
{

/// The answers that were given, of one piece or of all rows that have the same: how likely some of them are together,
/// for each member. What a number says is nearly every row's own, so it is left out here.
class GivenAnswers
{
 public:
  /// Bit i stands for the i-th answer.
  using Some = std::uint32_t;
  static Some only(std::size_t i) { return Some{1} << i; }

  /// The book must outlive it.
  GivenAnswers(const AnswerBook& book, const Answers& answers);

  [[nodiscard]] std::size_t size() const { return tests_.size(); }
  [[nodiscard]] const AnswerBook::Test& test(std::size_t i) const { return *tests_[i]; }
  [[nodiscard]] const std::string& property(std::size_t i) const { return tests_[i]->row->property; }
  [[nodiscard]] bool is_number(std::size_t i) const { return tests_[i]->row->answers.empty(); }

  /// P(this answer) of each member.
  [[nodiscard]] const std::vector<float>& alone(std::size_t i) const { return alone_[i]; }
  /// P(these answers) of each member, as if independent given the facts; worked out when first asked for, by any
  /// thread.
  [[nodiscard]] const std::vector<float>& together(Some some) const;
  /// P(case of the facts and this answer) of a member.
  [[nodiscard]] ByFacts facts_with(std::size_t i, std::size_t member) const;

 private:
  [[nodiscard]] std::vector<float> likelihood(Some some) const;
  const AnswerBook* book_;
  ByFacts before_;
  std::vector<const AnswerBook::Test*> tests_;
  std::vector<int> answers_;  // which of the test's
  std::vector<std::vector<float>> alone_;
  mutable std::mutex mutex_;
  mutable std::map<Some, std::vector<float>> together_;
};

}  // namespace bilancetta
