#include "answer_book.hpp"

#include <algorithm>
#include <array>
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

// Rows of so many columns, each times its weight, added up in their order.
BILANCETTA_VECTORISED void add_rows(const float* from, const float* weights, int rows, int columns, float* out)
{
  for (int row = 0; row < rows; ++row) {
    for (int k = 0; k < columns; ++k) {
      out[k] += weights[row] * from[row * columns + k];
    }
  }
}

}  // namespace

AnswerBook::AnswerBook(const Tables& tables, const Members& members, const std::string& reagent)
    : tables_(&tables), members_(members.begin(), members.end()), reagent_(reagent)
{
  std::vector<AnswerOdds> answers;
  for (const BenchTest& test : tables.tests) {
    const int first = static_cast<int>(answers.size());
    for (const std::string& answer : possible_answers(test)) {
      answers.emplace_back(tables, test, answer, reagent);
    }
    tests_.push_back({&test, first, static_cast<int>(answers.size()) - first});
  }
  columns_ = static_cast<int>(answers.size());
  odds_.reserve(members.size() * fact_cases * answers.size());
  for (const Member* member : members) {
    for (int facts = 0; facts < fact_cases; ++facts) {
      for (const AnswerOdds& answer : answers) {
        odds_.push_back(static_cast<float>(
            answer.probability(member->hypothesis, notch_through(facts), reagent_works(facts), skin_clean(facts))));
      }
    }
  }
  for (const bool checked : {false, true}) {
    std::vector<float>& all = unanswered_[checked ? 1 : 0];
    std::vector<float> row(answers.size());
    for (std::size_t m = 0; m < members.size(); ++m) {
      std::fill(row.begin(), row.end(), 0.0F);
      add_odds(m, facts_before(checked), 1.0F, row.data());
      all.insert(all.end(), row.begin(), row.end());
    }
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
  std::array<float, fact_cases> weights{};
  for (int which = 0; which < fact_cases; ++which) {
    weights[which] = mass * facts[which];
  }
  add_rows(odds(member, 0), weights.data(), fact_cases, columns_, out);
}

void AnswerBook::add_odds(std::size_t member, bool reagent_checked, float mass, float* out) const
{
  add_rows(&unanswered_[reagent_checked ? 1 : 0][member * static_cast<std::size_t>(columns_)], &mass, 1, columns_, out);
}

const AnswerBook::Test& AnswerBook::test_called(const std::string& key) const
{
  return *std::find_if(tests_.begin(), tests_.end(), [&](const Test& test) { return test.row->key == key; });
}

std::vector<ByFacts> AnswerBook::odds_of(const std::string& test, const std::string& answer,
                                         const std::vector<std::size_t>& members) const
{
  const Test& of = test_called(test);
  const std::vector<std::string>& known = of.row->answers;
  const auto which = std::find(known.begin(), known.end(), answer);
  std::vector<ByFacts> all(members.size());
  if (which == known.end()) {
    const AnswerOdds numeric(*tables_, *of.row, answer, reagent_);
    for (std::size_t k = 0; k < members.size(); ++k) {
      for (int facts = 0; facts < fact_cases; ++facts) {
        all[k][facts] = static_cast<float>(numeric.probability(members_[members[k]]->hypothesis, notch_through(facts),
                                                               reagent_works(facts), skin_clean(facts)));
      }
    }
    return all;
  }
  const auto column = of.first + (which - known.begin());
  for (std::size_t k = 0; k < members.size(); ++k) {
    for (int facts = 0; facts < fact_cases; ++facts) {
      all[k][facts] = odds(members[k], facts)[column];
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
    given.emplace_back(*tables_, *test_called(test).row, answer, reagent_);
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
