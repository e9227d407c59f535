#include "given_answers.hpp"

#include <algorithm>
#include <numeric>

namespace bilancetta
{

GivenAnswers::GivenAnswers(const AnswerBook& book, const Answers& answers)
    : book_(&book), before_(book.facts_before(answers.reagent_checked))
{
  for (const auto& [test, answer] : answers.given) {
    tests_.push_back(&book.test_called(test));
    answers_.push_back(AnswerBook::place_of(*tests_.back(), answer));
  }
  for (std::size_t i = 0; i < size(); ++i) {
    alone_.push_back(likelihood(only(i)));
  }
}

std::vector<float> GivenAnswers::likelihood(Some some) const
{
  std::vector<ByFacts> facts(book_->members(), before_);
  for (std::size_t i = 0; i < size(); ++i) {
    for (std::size_t m = 0; (some & only(i)) != 0 && !is_number(i) && m < facts.size(); ++m) {
      book_->multiply_by_odds(*tests_[i], answers_[i], m, facts[m]);
    }
  }
  std::vector<float> sums(facts.size());
  std::transform(facts.begin(), facts.end(), sums.begin(),
                 [](const ByFacts& one) { return std::accumulate(one.begin(), one.end(), 0.0F); });
  return sums;
}

const std::vector<float>& GivenAnswers::together(Some some) const
{
  const std::lock_guard lock(mutex_);
  const auto known = together_.find(some);
  return known != together_.end() ? known->second : together_.try_emplace(some, likelihood(some)).first->second;
}

ByFacts GivenAnswers::facts_with(std::size_t i, std::size_t member) const
{
  ByFacts facts = before_;
  if (!is_number(i)) {
    book_->multiply_by_odds(*tests_[i], answers_[i], member, facts);
  }
  return facts;
}

}  // namespace bilancetta
