#include <fmt/core.h>

#include <algorithm>

#include "bilancetta/verdict.hpp"

namespace bilancetta
{

namespace
{

using Given = std::pair<std::string, std::string>;

// P(answers | the weight and where it was found), up to a factor.
class ByWeight
{
 public:
  ByWeight(const Tables& tables, const Analysis& analysis, const Background& background) : tables_(&tables)
  {
    constexpr double negligible = 1e-9;
    for (std::size_t i = 0; i < analysis.evidence.size(); ++i) {
      const double base = background.prior[i] * analysis.evidence[i];
      if (base > negligible) {
        members_.emplace_back(base, (*analysis.members)[i]);
      }
    }
  }
  [[nodiscard]] double probability(const Answers& answers) const
  {
    const BenchOdds odds(*tables_, answers);
    double total = 0.0;
    for (const auto& [base, member] : members_) {
      total += base * odds.likelihood(member->hypothesis);
    }
    return total;
  }

 private:
  const Tables* tables_;
  std::vector<std::pair<double, const Member*>> members_;
};

Answers only(const Answers& answers, std::vector<Given> given)
{
  Answers some = answers;
  some.given = std::move(given);
  return some;
}

// How likely an answer is beside another, against the likeliest answer to its test.
double against_likeliest(const Tables& tables, const ByWeight& by_weight, const Answers& answers, const Given& answer,
                         const Given& beside)
{
  double likeliest = 0.0;
  for (const std::string& other : possible_answers(test_called(tables, answer.first))) {
    likeliest = std::max(likeliest, by_weight.probability(only(answers, {beside, {answer.first, other}})));
  }
  return likeliest > 0.0 ? by_weight.probability(only(answers, {beside, answer})) / likeliest : 1.0;
}

// An answer that hardly any hypothesis allows, once all but the answers of its own kind is known: those stand or fall
// together, as a dead drop is dead everywhere.
void add_unexpected(const Tables& tables, const ByWeight& by_weight, const Answers& answers,
                    std::vector<std::string>& conflicts)
{
  constexpr double hardly = 0.04;
  for (const auto& [test, answer] : answers.given) {
    const std::string& property = test_called(tables, test).property;
    Answers without = answers;
    std::erase_if(without.given,
                  [&](const Given& given) { return test_called(tables, given.first).property == property; });
    Answers with = without;
    with.given.emplace_back(test, answer);
    const double total = by_weight.probability(without);
    const double expected = by_weight.probability(with);
    if (total > 0.0 && expected / total < hardly) {
      conflicts.push_back(fmt::format(
          "{} = {} is not what the weight leads one to expect (about {:.0f} in 100 such pieces would answer "
          "so): try it again before trusting either",
          test, answer, std::max(1.0, 100 * expected / total)));
    }
  }
}

}  // namespace

std::vector<std::string> conflicts_of(const Tables& tables, const Analysis& analysis, const Background& background,
                                      const Answers& answers)
{
  constexpr double contradicts_below = 0.1;
  const ByWeight by_weight(tables, analysis, background);
  std::vector<std::string> conflicts;
  add_unexpected(tables, by_weight, answers, conflicts);
  for (std::size_t i = 0; i < answers.given.size(); ++i) {
    for (std::size_t j = i + 1; j < answers.given.size(); ++j) {
      const Given& one = answers.given[i];
      const Given& other = answers.given[j];
      if (against_likeliest(tables, by_weight, answers, one, other) < contradicts_below &&
          against_likeliest(tables, by_weight, answers, other, one) < contradicts_below) {
        conflicts.push_back(fmt::format("{} = {} and {} = {} contradict each other: try both again", one.first,
                                        one.second, other.first, other.second));
      }
    }
  }
  return conflicts;
}

}  // namespace bilancetta
