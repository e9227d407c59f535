#include "given_answers.hpp"

#include <numeric>

#include "bilancetta/posterior.hpp"
#include "support.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

// Against the odds of a single piece.
TEST_CASE("each answer alone is as likely as a single piece finds it", "[given_answers]")
{
  const Tables& tables = built_in_tables();
  const Prepared prepared(tables, PieceSize{});
  const Members& members = prepared.members_of_any_size();
  const AnswerBook book(tables, members, "chromate");
  Answers all;
  add_answer(tables, all, "magnet", "weak");
  add_answer(tables, all, "notch-reagent", "red");
  add_answer(tables, all, "conductivity", "40");
  add_answer(tables, all, "skin-colour", "white");
  const GivenAnswers given(book, all);
  REQUIRE(given.size() == 4);
  for (std::size_t i = 0; i < given.size(); ++i) {
    CHECK(given.is_number(i) == (i == 2));
    CHECK(given.test(i).row->key == all.given[i].first);
    CHECK(given.alone(i).empty() == given.is_number(i));
    Answers one;
    one.given = {all.given[i]};
    const BenchOdds single(tables, one);
    const AnswerOdds odds(tables, *given.test(i).row, all.given[i].second, "chromate");
    for (std::size_t m = 0; m < given.alone(i).size(); ++m) {
      CAPTURE(i, m);
      const Hypothesis& hypothesis = members[m]->hypothesis;
      CHECK_THAT(given.alone(i)[m], WithinRel(single.likelihood(hypothesis), 1e-4));
      for (int which = 0; which < fact_cases; ++which) {
        CHECK_THAT(given.odds(i, m)[which], WithinRel(odds.probability(hypothesis, facts_of(which)), 1e-5));
      }
    }
  }
  CHECK(given.property(3) == "skin");
}

TEST_CASE("the cases of the facts add up to one before any answer", "[given_answers]")
{
  const Tables& tables = built_in_tables();
  const Prepared prepared(tables, PieceSize{});
  const AnswerBook book(tables, prepared.members_of_any_size(), "chromate");
  const ByFacts before = GivenAnswers(book, {}).facts_before();
  CHECK_THAT(std::accumulate(before.begin(), before.end(), 0.0), WithinAbs(1.0, 1e-6));
}
