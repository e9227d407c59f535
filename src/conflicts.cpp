#include "conflicts.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <bit>
#include <cstdint>
#include <numeric>

#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

constexpr double contradicts_below = 0.1;
constexpr double hardly = 0.04;
constexpr const char* not_again = "trust neither, and do not repeat what could harm you with such a piece";

// Some of the answers: bit i stands for the i-th.
using Some = std::uint32_t;

Some only(std::size_t i)
{
  return Some{1} << i;
}

// Prior times evidence of each member, 1 in all.
BILANCETTA_VECTORISED void find_by_weight_and_place(const Analysis& analysis, const Background& background,
                                                    std::vector<float>& all) noexcept
{
  const std::size_t members = all.size();
  const double total = dot_of(background.prior.data(), analysis.evidence.data(), members);
  const double per_total = total > 0.0 ? 1.0 / total : 0.0;
  for (std::size_t i = 0; i < members; ++i) {
    all[i] = static_cast<float>(per_total * background.prior[i] * analysis.evidence[i]);
  }
}

std::vector<float> by_weight_and_place(const Analysis& analysis, const Background& background)
{
  std::vector<float> all(analysis.evidence.size());
  find_by_weight_and_place(analysis, background, all);
  return all;
}

BILANCETTA_VECTORISED float sum_of_products(const std::vector<float>& a, const std::vector<float>& b) noexcept
{
  return dot_of(a.data(), b.data(), a.size());
}

// Density of the number that answer i is, of each member.
std::vector<float> of_number(const AnswerBook& book, const Answers& answers, std::size_t i)
{
  std::vector<double> likelihood(book.members(), 1.0);
  book.multiply_by_number(answers.given[i].first, answers.given[i].second, likelihood);
  return {likelihood.begin(), likelihood.end()};
}

// P(answers | the weight and where it was found); of a number its density.
class ByWeight
{
 public:
  ByWeight(const AnswerBook& book, const GivenAnswers& given, const Answers& answers, const Analysis& analysis,
           const Background& background)
      : book_(&book), given_(&given), odds_(given.size())
  {
    constexpr float negligible = 1e-6F;
    const std::vector<float> all = by_weight_and_place(analysis, background);
    for (std::size_t m = 0; m < all.size(); ++m) {
      if (all[m] > negligible) {
        members_.push_back(m);
        base_.push_back(all[m]);
      }
    }
    for (std::size_t i = 0; i < given.size(); ++i) {
      const std::vector<float> number = given.is_number(i) ? of_number(book, answers, i) : std::vector<float>();
      odds_[i].resize(members_.size());
      for (std::size_t k = 0; k < members_.size(); ++k) {
        if (given.is_number(i)) {
          odds_[i][k].fill(number[members_[k]]);
        } else {
          odds_[i][k] = given.odds(i, members_[k]);
        }
      }
    }
  }
  [[nodiscard]] float probability(Some some) const
  {
    ByFacts sums{};
    for (std::size_t k = 0; k < base_.size(); ++k) {
      const ByFacts facts = facts_given(k, some);
      for (int which = 0; which < fact_cases; ++which) {
        sums[which] += base_[k] * facts[which];
      }
    }
    return std::accumulate(sums.begin(), sums.end(), 0.0F);
  }
  /// That of answer i and the likeliest answer to the test of another.
  [[nodiscard]] float of_likeliest_beside(std::size_t i, std::size_t other) const
  {
    const AnswerBook::Test& test = given_->test(other);
    std::vector<float> odds(static_cast<std::size_t>(test.count()), 0.0F);
    for (std::size_t k = 0; k < base_.size(); ++k) {
      book_->add_odds_of(test, members_[k], facts_given(k, only(i)), base_[k], odds.data());
    }
    return *std::max_element(odds.begin(), odds.end());
  }

 private:
  [[nodiscard]] ByFacts facts_given(std::size_t k, Some some) const
  {
    ByFacts facts = given_->facts_before();
    for (; some != 0; some &= some - 1) {
      const ByFacts& odds = odds_[std::countr_zero(some)][k];
      for (int which = 0; which < fact_cases; ++which) {
        facts[which] *= odds[which];
      }
    }
    return facts;
  }
  const AnswerBook* book_;
  const GivenAnswers* given_;
  std::vector<std::size_t> members_;        // that matter
  std::vector<float> base_;                 // of these, prior times evidence
  std::vector<std::vector<ByFacts>> odds_;  // of each answer, for these
};

// An answer that hardly any hypothesis allows, once all but the answers of its own kind is known: those stand or fall
// together, as a dead drop is dead everywhere.
void add_unexpected(const ByWeight& by_weight, const GivenAnswers& given, const Answers& answers,
                    const StepLimits& limits, std::vector<std::string>& conflicts)
{
  for (std::size_t i = 0; i < given.size(); ++i) {
    Some others = 0;
    for (std::size_t j = 0; j < given.size(); ++j) {
      others |= given.property(j) != given.property(i) ? only(j) : 0;
    }
    const double total = by_weight.probability(others);
    const double expected = by_weight.probability(others | only(i));
    if (total > 0.0 && expected / total < hardly) {
      const std::string so_many = given.is_number(i) ? ""
                                                     : fmt::format(" (about {:.0f} in 100 such pieces would answer so)",
                                                                   std::max(1.0, 100 * expected / total));
      conflicts.push_back(fmt::format(
          "{} = {} is not what the weight leads one to expect{}: {}", answers.given[i].first, answers.given[i].second,
          so_many, limits.allows(*given.test(i).row) ? "try it again before trusting either" : not_again));
    }
  }
}

// Is an answer, `both` likely beside another, hardly so against the likeliest answer to its test?
bool unlikely_beside(const ByWeight& by_weight, std::size_t answer, std::size_t other, double both)
{
  // No word is likelier beside the other answer than that is; a number's density is held to the same.
  return both < contradicts_below * by_weight.probability(only(other)) &&
         both < contradicts_below * by_weight.of_likeliest_beside(other, answer);
}

void add_contradictions(const ByWeight& by_weight, const GivenAnswers& given, const Answers& answers,
                        const StepLimits& limits, std::vector<std::string>& conflicts)
{
  for (std::size_t i = 0; i < given.size(); ++i) {
    for (std::size_t j = i + 1; j < given.size(); ++j) {
      const double both = by_weight.probability(only(i) | only(j));
      if (unlikely_beside(by_weight, i, j, both) && unlikely_beside(by_weight, j, i, both)) {
        const bool again = limits.allows(*given.test(i).row) && limits.allows(*given.test(j).row);
        conflicts.push_back(fmt::format("{} = {} and {} = {} contradict each other: {}", answers.given[i].first,
                                        answers.given[i].second, answers.given[j].first, answers.given[j].second,
                                        again ? "try both again" : not_again));
      }
    }
  }
}

}  // namespace

bool expected_together(const AnswerBook& book, const GivenAnswers& given, const Answers& answers,
                       const Analysis& analysis, const Background& background)
{
  if (!given.impossible_words().empty()) {
    return false;
  }
  const std::vector<float> base = by_weight_and_place(analysis, background);
  if (given.size() == 1 && !given.is_number(0)) {
    return sum_of_products(base, given.words_together()) >= hardly;
  }
  std::vector<float> all = given.words_together();
  float likeliest = 0.0F;
  float second = 0.0F;
  bool one_property = true;
  for (std::size_t i = 0; i < given.size(); ++i) {
    float alone = 1.0F;
    if (given.is_number(i)) {
      const std::vector<float> number = of_number(book, answers, i);
      const float highest = std::max(1.0F, *std::max_element(number.begin(), number.end()));
      std::transform(all.begin(), all.end(), number.begin(), all.begin(),
                     [&](float together, float likelihood) { return together * likelihood / highest; });
    } else {
      alone = sum_of_products(base, given.alone(i));
    }
    second = std::max(second, std::min(alone, likeliest));
    likeliest = std::max(likeliest, alone);
    one_property = one_property && given.property(i) == given.property(0);
  }
  const float together = sum_of_products(base, all);
  return together >= contradicts_below * second && together >= hardly * (one_property ? 1.0F : likeliest);
}

std::vector<std::string> conflicts_of(const AnswerBook& book, const GivenAnswers& given, const Answers& answers,
                                      const Analysis& analysis, const Background& background, const StepLimits& limits)
{
  std::vector<std::string> conflicts;
  if (!given.impossible_words().empty()) {
    conflicts.push_back(given.impossible_words());
  }
  const ByWeight by_weight(book, given, answers, analysis, background);
  add_unexpected(by_weight, given, answers, limits, conflicts);
  add_contradictions(by_weight, given, answers, limits, conflicts);
  return conflicts;
}

}  // namespace bilancetta
