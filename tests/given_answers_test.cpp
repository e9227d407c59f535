#include "given_answers.hpp"

#include "bilancetta/posterior.hpp"
#include "support.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinRel;

// Against the odds of a single piece; those of answers about one property would count their agreement besides.
TEST_CASE("some of the answers are as likely as they are together", "[given_answers]")
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
  CHECK(given.is_number(2));
  for (GivenAnswers::Some some = 0; some < 16; ++some) {
    Answers words;
    for (std::size_t i = 0; i < given.size(); ++i) {
      if ((some & GivenAnswers::only(i)) != 0 && !given.is_number(i)) {
        words.given.push_back(all.given[i]);
      }
    }
    const BenchOdds odds(tables, words);
    const std::vector<float>& together = given.together(some);
    for (std::size_t m = 0; m < members.size(); ++m) {
      CAPTURE(some, m);
      CHECK_THAT(together[m], WithinRel(odds.likelihood(members[m]->hypothesis), 1e-4));
    }
    CHECK(&given.together(some) == &together);  // worked out once
  }
  CHECK(given.alone(1) == given.together(GivenAnswers::only(1)));
  CHECK(given.property(0) == "magnet");
}

TEST_CASE("facts weighed with an answer add up to its likelihood", "[given_answers]")
{
  const Tables& tables = built_in_tables();
  const Prepared prepared(tables, PieceSize{});
  const AnswerBook book(tables, prepared.members_of_any_size(), "chromate");
  Answers one;
  add_answer(tables, one, "skin-reagent", "brown");
  const GivenAnswers given(book, one);
  for (std::size_t m = 0; m < book.members(); ++m) {
    float sum = 0.0F;
    for (const float fact : given.facts_with(0, m)) {
      sum += fact;
    }
    CHECK_THAT(sum, WithinRel(given.alone(0)[m], 1e-5F));
  }
}
