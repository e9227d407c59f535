#include "conflicts.hpp"

#include <algorithm>
#include <numeric>
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

// P(answer) to one test, to another, and to both, by brute force over the members.
struct TwoTests {
  const BenchTest &one, &other;
  std::vector<double> of_one, of_other;
  std::vector<std::vector<double>> both;

  [[nodiscard]] double likeliest_beside_one(std::size_t r) const
  {
    return *std::max_element(both[r].begin(), both[r].end());
  }
  [[nodiscard]] double likeliest_beside_other(std::size_t c) const
  {
    double most = 0.0;
    for (const std::vector<double>& row : both) {
      most = std::max(most, row[c]);
    }
    return most;
  }
};

TwoTests two_tests_of(const Analysis& a, const std::vector<double>& prior, const BenchTest& one, const BenchTest& other)
{
  const std::size_t rows = one.answers.size();
  const std::size_t columns = other.answers.size();
  TwoTests two{one, other, std::vector<double>(rows), std::vector<double>(columns),
               std::vector<std::vector<double>>(rows, std::vector<double>(columns))};
  const double total = std::inner_product(a.evidence.begin(), a.evidence.end(), prior.begin(), 0.0);
  for (std::size_t i = 0; i < a.members->size(); ++i) {
    const double mass = prior[i] * a.evidence[i] / total;
    const auto of = [&](std::vector<std::pair<std::string, std::string>> given) {
      Answers answers;
      answers.given = std::move(given);
      return mass * BenchOdds(built_in_tables(), answers).likelihood((*a.members)[i]->hypothesis);
    };
    if (mass < 1e-5) {
      continue;
    }
    for (std::size_t c = 0; c < columns; ++c) {
      two.of_other[c] += of({{other.key, other.answers[c]}});
    }
    for (std::size_t r = 0; r < rows; ++r) {
      two.of_one[r] += of({{one.key, one.answers[r]}});
      for (std::size_t c = 0; c < columns; ++c) {
        two.both[r][c] += of({{one.key, one.answers[r]}, {other.key, other.answers[c]}});
      }
    }
  }
  return two;
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
    Context context{.place = places[i % 5], .form = Form::solid, .answers = {}};
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

// Both together are less than a tenth as likely as either alone, and as either with the likeliest answer to the other
// test.
TEST_CASE("two answers contradict each other as brute force has it", "[conflicts]")
{
  const Tables& tables = built_in_tables();
  const Prepared prepared(tables, PieceSize{});
  BatchContexts contexts(prepared);
  Analysis a;
  a.members = &prepared.members(0.1);
  int contradicting = 0;
  int spared_by_likeliest = 0;
  const auto compare = [&](const TwoTests& two, const Context& bare, std::size_t r, std::size_t c) {
    const double alone = two.both[r][c] / std::min(two.of_one[r], two.of_other[c]);
    const double likeliest = two.both[r][c] / std::min(two.likeliest_beside_one(r), two.likeliest_beside_other(c));
    if (std::abs(std::max(alone, likeliest) - 0.1) < 0.005) {
      return;
    }
    Context context = bare;
    add_answer(tables, context.answers, two.one.key, two.one.answers[r]);
    add_answer(tables, context.answers, two.other.key, two.other.answers[c]);
    const RowContext row = contexts.get(context);
    const auto all =
        conflicts_of(*row.common().book, *row.common().given, context.answers, a, row.background(), StepLimits{});
    const bool said = std::any_of(all.begin(), all.end(), [](const std::string& conflict) {
      return contains(conflict, "contradict each other");
    });
    CAPTURE(bare.place, two.one.answers[r], two.other.answers[c], alone, likeliest);
    CHECK(said == (std::max(alone, likeliest) < 0.1));
    contradicting += said ? 1 : 0;
    spared_by_likeliest += alone < 0.095 && likeliest > 0.105 ? 1 : 0;
  };
  for (const auto& [density, place] : {std::pair{10.4, "jewellery"}, {9.3, "relay"}, {14.0, "contactor"}}) {
    const Context bare{.place = place, .form = Form::solid, .answers = {}};
    a.curve = referee::gaussian_curve(density, 0.1);
    a.weights = evidence_weights_of(a.curve);
    a.evidence = a.members->evidence(a.weights);
    const std::vector<double> prior = prior_of(tables, *a.members, bare);
    for (const auto& [one, other] :
         {std::pair{"magnet", "skin-reagent"}, {"skin-colour", "skin-reagent"}, {"file", "notch-reagent"}}) {
      const TwoTests two = two_tests_of(a, prior, test_called(tables, one), test_called(tables, other));
      for (std::size_t answer = 0; answer < two.of_one.size() * two.of_other.size(); ++answer) {
        compare(two, bare, answer / two.of_other.size(), answer % two.of_other.size());
      }
    }
  }
  CHECK(contradicting > 5);
  CHECK(spared_by_likeliest > 5);
}
