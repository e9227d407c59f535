#include "conflicts.hpp"

#include <random>

#include "batch_context.hpp"
#include "conductivity.hpp"
#include "referee.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;

namespace
{

std::size_t drawn(const std::vector<double>& weights, std::mt19937& random)
{
  return std::discrete_distribution<std::size_t>(weights.begin(), weights.end())(random);
}

// Answers to some of the tests as a member would give them, now and then an unlikely one.
Answers answers_of(const AnswerBook& book, const Hypothesis& hypothesis, std::mt19937& random)
{
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  const double sharpness = uniform(random);
  Answers answers;
  for (const AnswerBook::Test& test : book.tests()) {
    if (random() % 3 != 0) {
      continue;
    }
    if (test.row->answers.empty()) {
      const ConductivityOdds odds = conductivity_odds_of(built_in_tables(), *test.row, hypothesis);
      const double reading = odds.sd > 0.0 ? std::exp(odds.middle + odds.sd * (uniform(random) - 0.5)) : 20.0;
      add_answer(built_in_tables(), answers, test.row->key, std::to_string(std::clamp(reading, 0.1, 110.0)));
      continue;
    }
    std::vector<double> weights;
    for (const AnswerOdds& answer : test.answers) {
      weights.push_back(std::pow(answer.probability(hypothesis, facts_of(0)), sharpness));
    }
    add_answer(built_in_tables(), answers, test.row->key, test.row->answers[drawn(weights, random)]);
  }
  return answers;
}

}  // namespace

// A batch asks the bound first, a single piece never: no conflict may be lost by that.
TEST_CASE("answers that are expected together are in no conflict", "[conflicts]")
{
  const Tables& tables = built_in_tables();
  const Prepared prepared(tables, PieceSize{});
  BatchContexts contexts(prepared);
  std::mt19937 random(20240601);
  const char* const places[] = {"switch", "contactor", "dental", "board", "jewellery"};
  int conflicting = 0;
  int spared = 0;
  for (int i = 0; i < 3000; ++i) {
    Context context{.place = places[i % 5], .form = "solid", .answers = {}};
    Analysis a;
    const double density = 3.0 + 0.01 * static_cast<double>(random() % 1500);
    a.curve = referee::gaussian_curve(density, 0.003 * std::pow(2.0, static_cast<double>(random() % 8)));
    a.weights = evidence_weights_of(a.curve);
    a.members = &prepared.members(0.1);
    a.evidence = a.members->evidence(a.weights);
    const RowContext unanswered = contexts.get(context);
    std::vector<double> likely = a.evidence;
    std::transform(likely.begin(), likely.end(), unanswered.background().prior.begin(), likely.begin(),
                   std::multiplies<>());
    const AnswerBook& book = *unanswered.common().book;
    context.answers = answers_of(book, (*a.members)[drawn(likely, random)]->hypothesis, random);
    if (context.answers.given.empty()) {
      continue;
    }
    const RowContext row = contexts.get(context);
    const GivenAnswers& given = *row.common().given;
    const bool expected = expected_together(book, given, context.answers, a, row.background());
    const auto conflicts = conflicts_of(book, given, context.answers, a, row.background(), {});
    CAPTURE(i, expected, conflicts.size());
    CHECK((!expected || conflicts.empty()));
    conflicting += conflicts.empty() ? 0 : 1;
    spared += expected ? 1 : 0;
  }
  CHECK(conflicting > 100);
  CHECK(spared > 500);
}
