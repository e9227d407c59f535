#include "conflicts.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <functional>
#include <numeric>

#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

using Given = std::pair<std::string, std::string>;

constexpr double contradicts_below = 0.1;
constexpr double hardly = 0.04;

// Some of the answers, by their place among those given.
using Some = std::vector<std::size_t>;

// P(answers | the weight and where it was found), up to a factor.
class ByWeight
{
 public:
  ByWeight(const AnswerBook& book, const Analysis& analysis, const Background& background, const Answers& answers)
      : book_(&book), before_(book.facts_before(answers.reagent_checked))
  {
    constexpr double negligible = 1e-6;
    const std::vector<double>& evidence = analysis.evidence;
    const double total = dot_of(evidence.data(), background.prior.data(), evidence.size());
    for (std::size_t i = 0; i < evidence.size(); ++i) {
      const double base = background.prior[i] * evidence[i];
      if (base > negligible * total) {
        members_.push_back(i);
        base_.push_back(static_cast<float>(base / total));
      }
    }
    for (const auto& [test, answer] : answers.given) {
      odds_.push_back(book.odds_of(test, answer, members_));
    }
  }
  [[nodiscard]] double probability(const Some& answers) const
  {
    double total = 0.0;
    for (std::size_t k = 0; k < members_.size(); ++k) {
      const ByFacts facts = facts_given(k, answers);
      total += base_[k] * std::accumulate(facts.begin(), facts.end(), 0.0F);
    }
    return total;
  }
  /// That of the answers and of each possible answer of the book.
  [[nodiscard]] std::vector<float> with_each(const Some& answers) const
  {
    std::vector<float> column(static_cast<std::size_t>(book_->columns()), 0.0F);
    for (std::size_t k = 0; k < members_.size(); ++k) {
      book_->add_odds(members_[k], facts_given(k, answers), base_[k], column.data());
    }
    return column;
  }

 private:
  [[nodiscard]] ByFacts facts_given(std::size_t k, const Some& answers) const
  {
    ByFacts facts = before_;
    for (const std::size_t answer : answers) {
      for (int which = 0; which < fact_cases; ++which) {
        facts[which] *= odds_[answer][k][which];
      }
    }
    return facts;
  }
  const AnswerBook* book_;
  ByFacts before_;
  std::vector<std::size_t> members_;
  std::vector<float> base_;
  std::vector<std::vector<ByFacts>> odds_;  // of each answer, for each of the members
};

// An answer that hardly any hypothesis allows, once all but the answers of its own kind is known: those stand or fall
// together, as a dead drop is dead everywhere.
void add_unexpected(const AnswerBook& book, const ByWeight& by_weight, const std::vector<Given>& given,
                    std::vector<std::string>& conflicts)
{
  const auto property = [&](std::size_t i) -> const std::string& {
    return book.test_called(given[i].first).row->property;
  };
  for (std::size_t i = 0; i < given.size(); ++i) {
    Some others;
    for (std::size_t j = 0; j < given.size(); ++j) {
      if (property(j) != property(i)) {
        others.push_back(j);
      }
    }
    const double total = by_weight.probability(others);
    others.push_back(i);
    const double expected = by_weight.probability(others);
    if (total > 0.0 && expected / total < hardly) {
      conflicts.push_back(fmt::format(
          "{} = {} is not what the weight leads one to expect (about {:.0f} in 100 such pieces would answer "
          "so): try it again before trusting either",
          given[i].first, given[i].second, std::max(1.0, 100 * expected / total)));
    }
  }
}

// Is an answer, `both` likely beside another, hardly so against the likeliest answer to its test?
bool unlikely_beside(const AnswerBook& book, const ByWeight& by_weight, const Given& given, std::size_t other,
                     double both)
{
  // No answer is likelier beside the other than the other is.
  if (both >= contradicts_below * by_weight.probability({other})) {
    return false;
  }
  const std::vector<float> each = by_weight.with_each({other});
  const AnswerBook::Test& test = book.test_called(given.first);
  const auto first = each.begin() + test.first();
  return both < contradicts_below * *std::max_element(first, first + test.count());
}

void add_contradictions(const AnswerBook& book, const ByWeight& by_weight, const std::vector<Given>& given,
                        std::vector<std::string>& conflicts)
{
  for (std::size_t i = 0; i < given.size(); ++i) {
    for (std::size_t j = i + 1; j < given.size(); ++j) {
      const double both = by_weight.probability({i, j});
      if (unlikely_beside(book, by_weight, given[i], j, both) && unlikely_beside(book, by_weight, given[j], i, both)) {
        conflicts.push_back(fmt::format("{} = {} and {} = {} contradict each other: try both again", given[i].first,
                                        given[i].second, given[j].first, given[j].second));
      }
    }
  }
}

}  // namespace

BILANCETTA_VECTORISED bool expected_together(const Analysis& analysis, const Background& background,
                                             const std::vector<GivenAnswer>& given)
{
  const std::size_t members = analysis.evidence.size();
  std::vector<double> base(members);
  std::transform(background.prior.begin(), background.prior.end(), analysis.evidence.begin(), base.begin(),
                 std::multiplies<>());
  const double total = sum_of(base.data(), members);
  const double all = dot_of(base.data(), background.test_likelihood.data(), members);
  if (all >= contradicts_below * total) {
    return true;
  }
  double likeliest = 0.0;
  double second = 0.0;
  bool one_property = true;
  for (const GivenAnswer& answer : given) {
    const double alone = answer.likelihood.empty() ? total : dot_of(base.data(), answer.likelihood.data(), members);
    second = std::max(second, std::min(alone, likeliest));
    likeliest = std::max(likeliest, alone);
    one_property = one_property && answer.property == given.front().property;
  }
  return all >= contradicts_below * second && all >= hardly * (one_property ? total : likeliest);
}

std::vector<std::string> conflicts_of(const AnswerBook& book, const Analysis& analysis, const Background& background,
                                      const Answers& answers)
{
  std::vector<std::string> conflicts;
  const ByWeight by_weight(book, analysis, background, answers);
  add_unexpected(book, by_weight, answers.given, conflicts);
  add_contradictions(book, by_weight, answers.given, conflicts);
  return conflicts;
}

}  // namespace bilancetta
