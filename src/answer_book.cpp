#include "answer_book.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <functional>
#include <string_view>

#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

BILANCETTA_VECTORISED void add_row(const float* from, float weight, int columns, float* out) noexcept
{
  for (int k = 0; k < columns; ++k) {
    out[k] += weight * from[k];
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
        return odds.metal_seen(members[m]->hypothesis, facts_of(facts));
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
    : tables_(&tables), members_(members.begin(), members.end())
{
  std::vector<OddsSheets::Asked> asked;
  for (const BenchTest& test : tables.tests) {
    Test& here = tests_.emplace_back(Test{&test, {}, {}});
    for (const std::string& answer : possible_answers(test)) {
      here.answers.emplace_back(tables, test, answer, reagent);
    }
    asked.push_back({here.answers.front().asks_of_facts(), here.count()});
    if (test.answers.empty()) {
      for (const Member* member : members) {
        meter_[test.key].push_back(conductivity_odds_of(tables, test, member->hypothesis));
      }
    }
  }
  sheets_ = OddsSheets(asked, members.size());
  for (std::size_t t = 0; t < tests_.size(); ++t) {
    tests_[t].place = sheets_.places()[t];
    for (int which = 0; which < fact_cases; ++which) {
      for (std::size_t m = 0; (which & ~asked[t].facts) == 0 && m < members.size(); ++m) {
        const auto odds_of = [&](const AnswerOdds& answer) {
          return static_cast<float>(answer.probability(members[m]->hypothesis, facts_of(which)));
        };
        std::transform(tests_[t].answers.begin(), tests_[t].answers.end(), sheets_.of(m, tests_[t].place, which),
                       odds_of);
      }
    }
  }
  for (const bool checked : {false, true}) {
    std::vector<float>& all = unanswered_[checked ? 1 : 0];
    all.assign(members.size() * static_cast<std::size_t>(columns()), 0.0F);
    for (std::size_t m = 0; m < members.size(); ++m) {
      add_odds(m, facts_before(checked), 1.0F, &all[m * static_cast<std::size_t>(columns())]);
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
    Coupled coupled{&test, {}, {}};
    std::vector<AnswerOdds> told;
    std::map<std::string_view, int> words;
    for (const auto& [key, answer] : answers.given) {
      const Test& other = test_called(key);
      const int which = place_of(other, answer);
      if (which >= 0 && other.answers[which].asks_the_same(test.answers.front()) && told.size() < most_told) {
        told.push_back(other.answers[which]);
        const int word = words.try_emplace(answer, static_cast<int>(words.size())).first->second;
        coupled.told.push_back({&other, which, place_of(test, answer), word});
      }
    }
    if (!told.empty()) {
      coupled.of_one_metal = of_one_metal(members_, test.answers.front(), told);
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
    const std::uint8_t of_one_metal = coupled.of_one_metal[member][which];
    if (of_one_metal == 0) {
      continue;
    }
    const Coupled::Told* const first = &coupled.told[std::countr_zero(of_one_metal)];
    double product = 1.0;
    bool alike = true;
    for (unsigned left = of_one_metal; left != 0; left &= left - 1) {
      const Coupled::Told& told = coupled.told[std::countr_zero(left)];
      product *= sheets_.of(member, told.test->place, which)[told.answer];
      alike = alike && told.word == first->word;
    }
    if (!alike) {
      continue;
    }
    const int count = std::popcount(of_one_metal);
    const double apart = (1.0 - together) * product;
    const double so_far = apart + together * root(product, count);
    const float* own = sheets_.of(member, coupled.test->place, which);
    float* of_test = out + coupled.test->first();
    const float weight = mass * facts[which];
    const auto less = static_cast<float>(1.0 - apart / so_far) * weight;
    for (int k = 0; k < coupled.test->count(); ++k) {
      of_test[k] -= less * own[k];
    }
    if (first->here >= 0) {
      const double agreeing = product * own[first->here];
      of_test[first->here] += static_cast<float>(together * root(agreeing, count + 1) / so_far) * weight;
    }
  }
}

ByFacts AnswerBook::facts_before(bool reagent_checked) const
{
  ByFacts all{};
  for (int which = 0; which < fact_cases; ++which) {
    all[which] = static_cast<float>(chance_of(facts_of(which), tables_->facts, reagent_checked));
  }
  return all;
}

std::vector<float> AnswerBook::weighed(const std::vector<ByFacts>& facts) const
{
  const auto rows = static_cast<std::size_t>(sheets_.rows());
  std::vector<float> weighed(facts.size() * rows);
  for (std::size_t m = 0; m < facts.size(); ++m) {
    sheets_.weigh_rows(facts[m], &weighed[m * rows]);
  }
  return weighed;
}

void AnswerBook::add_odds(std::size_t member, const ByFacts& facts, float mass, float* out) const
{
  const std::vector<float> rows = weighed({facts});
  sheets_.add(member, rows.data(), mass, out);
}

void AnswerBook::add_odds(std::size_t member, bool reagent_checked, float mass, float* out) const
{
  add_row(&unanswered_[reagent_checked ? 1 : 0][member * static_cast<std::size_t>(columns())], mass, columns(), out);
}

const AnswerBook::Test& AnswerBook::test_called(const std::string& key) const
{
  return *std::find_if(tests_.begin(), tests_.end(), [&](const Test& test) { return test.row->key == key; });
}

int AnswerBook::place_of(const Test& test, const std::string& answer)
{
  const std::vector<std::string>& known = test.row->answers;
  const auto which = std::find(known.begin(), known.end(), answer);
  return which == known.end() ? -1 : static_cast<int>(which - known.begin());
}

void AnswerBook::add_odds_of(const Test& test, std::size_t member, const ByFacts& facts, float mass, float* out) const
{
  for (int which = 0; which < fact_cases; ++which) {
    const float* odds = sheets_.of(member, test.place, which);
    for (int k = 0; k < test.count(); ++k) {
      out[k] += mass * facts[which] * odds[k];
    }
  }
}

void AnswerBook::multiply_by_number(const std::string& test, const std::string& answer,
                                    std::vector<double>& likelihood) const
{
  const std::vector<ConductivityOdds>& meter = meter_.at(test);
  const double reading = ln_conductivity_from(answer);
  for (std::size_t m = 0; m < likelihood.size(); ++m) {
    likelihood[m] *= meter[m].at(reading);
  }
}

std::vector<ByFacts> AnswerBook::facts_given(const Answers& answers) const
{
  std::vector<ByFacts> all(members_.size(), facts_before(answers.reagent_checked));
  std::vector<AnswerOdds> given;
  for (const auto& [key, answer] : answers.given) {
    const Test& test = test_called(key);
    const int place = place_of(test, answer);
    given.push_back(test.answers[place]);
    const OddsSheets::Column column = odds(test, place);
    for (std::size_t m = 0; m < all.size(); ++m) {
      const ByFacts own = column.of(m);
      std::transform(all[m].begin(), all[m].end(), own.begin(), all[m].begin(), std::multiplies<>());
    }
  }
  for (std::size_t m = 0; m < all.size() && given.size() > 1; ++m) {
    for (int facts = 0; facts < fact_cases; ++facts) {
      all[m][facts] *= static_cast<float>(agreement_of(*tables_, given, members_[m]->hypothesis, facts_of(facts)));
    }
  }
  return all;
}

}  // namespace bilancetta
