#include "answer_book.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

constexpr bool notch_through(int facts)
{
  return (facts & 1) == 0;
}
constexpr bool reagent_works(int facts)
{
  return (facts & 2) == 0;
}
constexpr bool skin_clean(int facts)
{
  return (facts & 4) == 0;
}

BILANCETTA_VECTORISED void add_row(const float* from, float weight, int columns, float* out)
{
  for (int k = 0; k < columns; ++k) {
    out[k] += weight * from[k];
  }
}

// A row for each case of the facts, which follow each other: all in one pass.
BILANCETTA_VECTORISED void add_cases(const float* from, const ByFacts& weights, int columns, float* out)
{
  for (int k = 0; k < columns; ++k) {
    float sum = 0.0F;
    for (int which = 0; which < fact_cases; ++which) {
      sum += weights[which] * from[which * columns + k];
    }
    out[k] += sum;
  }
}

// The roots that are asked for most are quick.
double root(double x, int n)
{
  return n == 1 ? x : n == 2 ? std::sqrt(x) : std::pow(x, 1.0 / n);
}

constexpr std::size_t most_told = 8;  // a bit for each

// Of each member, case by case of the facts: bit k if told[k] is about the metal that the test asked would see.
std::vector<std::array<std::uint8_t, fact_cases>> of_one_metal(const std::vector<const Member*>& members,
                                                               const AnswerOdds& asked,
                                                               const std::vector<AnswerOdds>& told)
{
  std::vector<std::array<std::uint8_t, fact_cases>> all(members.size());
  for (std::size_t m = 0; m < members.size(); ++m) {
    for (int facts = 0; facts < fact_cases; ++facts) {
      const auto metal = [&](const AnswerOdds& odds) {
        return odds.metal_seen(members[m]->hypothesis, notch_through(facts), reagent_works(facts), skin_clean(facts));
      };
      const int seen = metal(asked);
      for (std::size_t k = 0; seen >= 0 && k < told.size(); ++k) {
        all[m][facts] |= static_cast<std::uint8_t>(metal(told[k]) == seen ? 1U << k : 0U);
      }
    }
  }
  return all;
}

}  // namespace

AnswerBook::AnswerBook(const Tables& tables, const Members& members, const std::string& reagent)
    : tables_(&tables), members_(members.begin(), members.end()), reagent_(reagent)
{
  for (const BenchTest& test : tables.tests) {
    const int first = columns();
    for (const std::string& answer : possible_answers(test)) {
      answers_.emplace_back(tables, test, answer, reagent);
    }
    tests_.push_back({&test, first, columns() - first});
  }
  odds_.reserve(members.size() * fact_cases * answers_.size());
  for (const Member* member : members) {
    for (int facts = 0; facts < fact_cases; ++facts) {
      for (const AnswerOdds& answer : answers_) {
        odds_.push_back(static_cast<float>(
            answer.probability(member->hypothesis, notch_through(facts), reagent_works(facts), skin_clean(facts))));
      }
    }
  }
  for (const bool checked : {false, true}) {
    std::vector<float>& all = unanswered_[checked ? 1 : 0];
    std::vector<float> row(answers_.size());
    for (std::size_t m = 0; m < members.size(); ++m) {
      std::fill(row.begin(), row.end(), 0.0F);
      add_odds(m, facts_before(checked), 1.0F, row.data());
      all.insert(all.end(), row.begin(), row.end());
    }
  }
}

std::vector<AnswerBook::Coupled> AnswerBook::coupled_to(const Answers& answers) const
{
  std::vector<Coupled> all;
  for (const Test& test : tests_) {
    const auto made = [&](const auto& given) { return given.first == test.row->key; };
    if (test.row->answers.empty() || std::any_of(answers.given.begin(), answers.given.end(), made)) {
      continue;
    }
    const AnswerOdds& asked = answers_[static_cast<std::size_t>(test.first)];
    Coupled coupled{test.first, test.count, {}, {}};
    std::vector<AnswerOdds> told;
    for (const auto& [key, answer] : answers.given) {
      const Test& other = test_called(key);
      const int column = column_of(other, answer);
      if (column >= 0 && answers_[column].asks_the_same(asked) && told.size() < most_told) {
        told.push_back(answers_[column]);
        coupled.told.push_back({other.first, column - other.first});
      }
    }
    if (!told.empty()) {
      coupled.of_one_metal = of_one_metal(members_, asked, told);
      all.push_back(std::move(coupled));
    }
  }
  return all;
}

void AnswerBook::add_agreement(std::size_t member, const ByFacts& facts, float mass, const Coupled& coupled,
                               float* out) const
{
  const double together = tables_->facts.one_answer_for_a_metal;
  for (int which = 0; which < fact_cases; ++which) {
    const float* own = odds(member, which);
    double product = 1.0;
    int count = 0;
    int answer = -1;
    bool alike = true;
    for (std::size_t k = 0; k < coupled.told.size(); ++k) {
      if ((coupled.of_one_metal[member][which] >> k & 1U) != 0) {
        const Coupled::Told& told = coupled.told[k];
        product *= own[told.first + told.answer];
        alike = alike && (answer < 0 || answer == told.answer);
        answer = told.answer;
        ++count;
      }
    }
    if (count == 0 || !alike) {
      continue;
    }
    const double apart = (1.0 - together) * product;
    const double so_far = apart + together * root(product, count);
    const double agreeing = product * own[coupled.first + answer];
    const float weight = mass * facts[which];
    const auto less = static_cast<float>(1.0 - apart / so_far) * weight;
    for (int k = coupled.first; k < coupled.first + coupled.count; ++k) {
      out[k] -= less * own[k];
    }
    out[coupled.first + answer] += static_cast<float>(together * root(agreeing, count + 1) / so_far) * weight;
  }
}

ByFacts AnswerBook::facts_before(bool reagent_checked) const
{
  const BenchFacts& f = tables_->facts;
  const double works = reagent_checked ? f.reagent_works_if_checked : f.reagent_works;
  const auto of = [](bool fact, double probability) { return fact ? probability : 1.0 - probability; };
  ByFacts all{};
  for (int facts = 0; facts < fact_cases; ++facts) {
    all[facts] = static_cast<float>(of(notch_through(facts), f.notch_through_coat) * of(reagent_works(facts), works) *
                                    of(skin_clean(facts), f.skin_clean));
  }
  return all;
}

void AnswerBook::add_odds(std::size_t member, const ByFacts& facts, float mass, float* out) const
{
  ByFacts weights = facts;
  for (float& weight : weights) {
    weight *= mass;
  }
  add_cases(odds(member, 0), weights, columns(), out);
}

void AnswerBook::add_odds(std::size_t member, bool reagent_checked, float mass, float* out) const
{
  add_row(&unanswered_[reagent_checked ? 1 : 0][member * answers_.size()], mass, columns(), out);
}

const AnswerBook::Test& AnswerBook::test_called(const std::string& key) const
{
  return *std::find_if(tests_.begin(), tests_.end(), [&](const Test& test) { return test.row->key == key; });
}

int AnswerBook::column_of(const Test& test, const std::string& answer)
{
  const std::vector<std::string>& known = test.row->answers;
  const auto which = std::find(known.begin(), known.end(), answer);
  return which == known.end() ? -1 : test.first + static_cast<int>(which - known.begin());
}

AnswerOdds AnswerBook::answer_odds(const Test& test, const std::string& answer) const
{
  const int column = column_of(test, answer);
  return column < 0 ? AnswerOdds(*tables_, *test.row, answer, reagent_) : answers_[static_cast<std::size_t>(column)];
}

std::vector<ByFacts> AnswerBook::odds_of(const std::string& test, const std::string& answer,
                                         const std::vector<std::size_t>& members) const
{
  const Test& of = test_called(test);
  const int column = column_of(of, answer);
  const AnswerOdds numeric = answer_odds(of, answer);
  std::vector<ByFacts> all(members.size());
  for (std::size_t k = 0; k < members.size(); ++k) {
    for (int facts = 0; facts < fact_cases; ++facts) {
      all[k][facts] =
          column >= 0 ? odds(members[k], facts)[column]
                      : static_cast<float>(numeric.probability(members_[members[k]]->hypothesis, notch_through(facts),
                                                               reagent_works(facts), skin_clean(facts)));
    }
  }
  return all;
}

std::vector<ByFacts> AnswerBook::facts_given(const Answers& answers) const
{
  std::vector<std::size_t> everyone(members_.size());
  std::iota(everyone.begin(), everyone.end(), std::size_t{0});
  std::vector<ByFacts> all(members_.size(), facts_before(answers.reagent_checked));
  std::vector<AnswerOdds> given;
  for (const auto& [test, answer] : answers.given) {
    given.push_back(answer_odds(test_called(test), answer));
    const std::vector<ByFacts> own = odds_of(test, answer, everyone);
    for (std::size_t m = 0; m < all.size(); ++m) {
      for (int facts = 0; facts < fact_cases; ++facts) {
        all[m][facts] *= own[m][facts];
      }
    }
  }
  for (std::size_t m = 0; m < all.size() && given.size() > 1; ++m) {
    for (int facts = 0; facts < fact_cases; ++facts) {
      all[m][facts] *= static_cast<float>(agreement_of(*tables_, given, members_[m]->hypothesis, notch_through(facts),
                                                       reagent_works(facts), skin_clean(facts)));
    }
  }
  return all;
}

}  // namespace bilancetta
