#include "given_answers.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <functional>
#include <numeric>
#include <string_view>

namespace bilancetta
{

namespace
{

// Common practice, no source.
std::string impossible_among(const Answers& answers)
{
  const auto answer_to = [&](std::string_view test) {
    const auto given =
        std::find_if(answers.given.begin(), answers.given.end(), [&](const auto& one) { return one.first == test; });
    return given == answers.given.end() ? std::string() : given->second;
  };
  const auto is_coloured = [](const std::string& colour) { return colour == "copper" || colour == "yellow"; };
  const std::string skin = answer_to("skin-colour");
  const std::string back = answer_to("back-colour");
  if (answer_to("sides") != "alike" || skin.empty() || back.empty() || skin == back ||
      !(is_coloured(skin) || is_coloured(back))) {
    return "";
  }
  return fmt::format("sides = alike, skin-colour = {} and back-colour = {} contradict each other: look again", skin,
                     back);
}

}  // namespace

GivenAnswers::GivenAnswers(const AnswerBook& book, const Answers& answers)
    : before_(book.facts_before(answers.reagent_checked)), impossible_words_(impossible_among(answers))
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
