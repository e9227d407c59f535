#include "given_answers.hpp"

#include <algorithm>
#include <functional>
#include <numeric>

namespace bilancetta
{

GivenAnswers::GivenAnswers(const AnswerBook& book, const Answers& answers)
    : before_(book.facts_before(answers.reagent_checked))
{
  std::vector<ByFacts> together(book.members(), before_);
  for (const auto& [key, answer] : answers.given) {
    const AnswerBook::Test& test = book.test_called(key);
    Given& given = all_.emplace_back(Given{&test, {}, {}});
    if (test.row->answers.empty()) {
      continue;
    }
    given.odds = book.odds(test, AnswerBook::place_of(test, answer));
    for (std::size_t m = 0; m < book.members(); ++m) {
      const ByFacts odds = given.odds->of(m);
      given.alone.push_back(std::inner_product(before_.begin(), before_.end(), odds.begin(), 0.0F));
      std::transform(odds.begin(), odds.end(), together[m].begin(), together[m].begin(), std::multiplies<>());
    }
  }
  for (const ByFacts& facts : together) {
    words_together_.push_back(std::accumulate(facts.begin(), facts.end(), 0.0F));
  }
}

}  // namespace bilancetta
