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

constexpr double contradicts_below = 0.1;
constexpr double hardly = 0.04;

using Some = GivenAnswers::Some;

// Prior times evidence of each member, 1 in all.
BILANCETTA_VECTORISED std::vector<float> by_weight_and_place(const Analysis& analysis, const Background& background)
{
  const std::size_t members = analysis.evidence.size();
  const double total = dot_of(background.prior.data(), analysis.evidence.data(), members);
  const double per_total = total > 0.0 ? 1.0 / total : 0.0;
  std::vector<float> all(members);
  for (std::size_t i = 0; i < members; ++i) {
    all[i] = static_cast<float>(per_total * background.prior[i] * analysis.evidence[i]);
  }
  return all;
}

BILANCETTA_VECTORISED float sum_of_products(const std::vector<float>& a, const std::vector<float>& b)
{
  return dot_of(a.data(), b.data(), a.size());
}

// P(answers | the weight and where it was found).
class ByWeight
{
 public:
  ByWeight(const AnswerBook& book, const GivenAnswers& given, const Answers& answers, const Analysis& analysis,
           const Background& background)
      : book_(&book), given_(&given), base_(by_weight_and_place(analysis, background)), numbers_(given.size())
  {
    for (std::size_t i = 0; i < given.size(); ++i) {
      if (given.is_number(i)) {
        std::vector<double> likelihood(base_.size(), 1.0);
        book.multiply_by_number(answers.given[i].first, answers.given[i].second, likelihood);
        numbers_[i].assign(likelihood.begin(), likelihood.end());
      }
    }
  }
  [[nodiscard]] float probability(Some some) const { return sum_of_products(mass(some), given_->together(some)); }
  /// That of answer i and the likeliest answer to the test of another.
  [[nodiscard]] float of_likeliest_beside(std::size_t i, std::size_t other) const
  {
    const AnswerBook::Test& test = given_->test(other);
    const std::vector<float> mass = this->mass(GivenAnswers::only(i));
    const float negligible = 1e-6F * *std::max_element(mass.begin(), mass.end());
    std::vector<float> odds(static_cast<std::size_t>(test.count()), 0.0F);
    for (std::size_t m = 0; m < mass.size(); ++m) {
      if (mass[m] > negligible) {
        book_->add_odds_of(test, m, given_->facts_with(i, m), mass[m], odds.data());
      }
    }
    return *std::max_element(odds.begin(), odds.end());
  }

 private:
  // With the numbers among some.
  [[nodiscard]] std::vector<float> mass(Some some) const
  {
    std::vector<float> mass = base_;
    for (std::size_t i = 0; i < numbers_.size(); ++i) {
      if ((some & GivenAnswers::only(i)) != 0 && !numbers_[i].empty()) {
        std::transform(mass.begin(), mass.end(), numbers_[i].begin(), mass.begin(), std::multiplies<>());
      }
    }
    return mass;
  }
  const AnswerBook* book_;
  const GivenAnswers* given_;
  std::vector<float> base_;
  std::vector<std::vector<float>> numbers_;  // likelihoods of those among the answers
};

// An answer that hardly any hypothesis allows, once all but the answers of its own kind is known: those stand or fall
// together, as a dead drop is dead everywhere.
void add_unexpected(const ByWeight& by_weight, const GivenAnswers& given, const Answers& answers,
                    std::vector<std::string>& conflicts)
{
  for (std::size_t i = 0; i < given.size(); ++i) {
    Some others = 0;
    for (std::size_t j = 0; j < given.size(); ++j) {
      others |= given.property(j) != given.property(i) ? GivenAnswers::only(j) : 0;
    }
    const double total = by_weight.probability(others);
    const double expected = by_weight.probability(others | GivenAnswers::only(i));
    if (total > 0.0 && expected / total < hardly) {
      conflicts.push_back(fmt::format(
          "{} = {} is not what the weight leads one to expect (about {:.0f} in 100 such pieces would answer "
          "so): try it again before trusting either",
          answers.given[i].first, answers.given[i].second, std::max(1.0, 100 * expected / total)));
    }
  }
}

// Is an answer, `both` likely beside another, hardly so against the likeliest answer to its test?
bool unlikely_beside(const ByWeight& by_weight, std::size_t answer, std::size_t other, double both)
{
  // No answer is likelier beside the other than the other is.
  return both < contradicts_below * by_weight.probability(GivenAnswers::only(other)) &&
         both < contradicts_below * by_weight.of_likeliest_beside(other, answer);
}

void add_contradictions(const ByWeight& by_weight, const GivenAnswers& given, const Answers& answers,
                        std::vector<std::string>& conflicts)
{
  for (std::size_t i = 0; i < given.size(); ++i) {
    for (std::size_t j = i + 1; j < given.size(); ++j) {
      const double both = by_weight.probability(GivenAnswers::only(i) | GivenAnswers::only(j));
      if (unlikely_beside(by_weight, i, j, both) && unlikely_beside(by_weight, j, i, both)) {
        conflicts.push_back(fmt::format("{} = {} and {} = {} contradict each other: try both again",
                                        answers.given[i].first, answers.given[i].second, answers.given[j].first,
                                        answers.given[j].second));
      }
    }
  }
}

}  // namespace

bool expected_together(const Analysis& analysis, const Background& background, const GivenAnswers& given)
{
  const std::vector<float> base = by_weight_and_place(analysis, background);
  const std::vector<float> of_all(background.test_likelihood.begin(), background.test_likelihood.end());
  const float all = sum_of_products(base, of_all);
  if (all >= contradicts_below) {
    return true;
  }
  float likeliest = 0.0F;
  float second = 0.0F;
  bool one_property = true;
  for (std::size_t i = 0; i < given.size(); ++i) {
    const float alone = given.is_number(i) ? 1.0F : sum_of_products(base, given.alone(i));
    second = std::max(second, std::min(alone, likeliest));
    likeliest = std::max(likeliest, alone);
    one_property = one_property && given.property(i) == given.property(0);
  }
  return all >= contradicts_below * second && all >= hardly * (one_property ? 1.0F : likeliest);
}

std::vector<std::string> conflicts_of(const AnswerBook& book, const GivenAnswers& given, const Answers& answers,
                                      const Analysis& analysis, const Background& background)
{
  std::vector<std::string> conflicts;
  const ByWeight by_weight(book, given, answers, analysis, background);
  add_unexpected(by_weight, given, answers, conflicts);
  add_contradictions(by_weight, given, answers, conflicts);
  return conflicts;
}

}  // namespace bilancetta
