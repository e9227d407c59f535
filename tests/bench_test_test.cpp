#include <algorithm>
#include <cmath>
#include <numeric>

#include "answer_book.hpp"
#include "bilancetta/bench_test.hpp"
#include "bilancetta/posterior.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace
{

const Tables& tables()
{
  return built_in_tables();
}

Hypothesis solid(const std::string& key)
{
  const int material = find_material(tables(), key);
  INFO(key);
  REQUIRE(material >= 0);
  return solid_hypothesis(tables(), material);
}

// Any build row of this kind serves: a test looks at the materials only.
Hypothesis layered(Build build, const std::string& outer, const std::string& inner)
{
  for (std::size_t row = 0; row < tables().builds.size(); ++row) {
    if (tables().builds[row].build == build) {
      return layered_hypothesis(tables(), static_cast<int>(row), find_material(tables(), outer),
                                find_material(tables(), inner), {});
    }
  }
  FAIL("no such build");
  return {};
}

Answers answered(std::initializer_list<std::pair<std::string, std::string>> given)
{
  Answers answers;
  for (const auto& [test, answer] : given) {
    add_answer(tables(), answers, test, answer);
  }
  return answers;
}

double likelihood_of(const Answers& answers, const Hypothesis& h)
{
  return BenchOdds(tables(), answers).likelihood(h);
}

double likelihood(const Hypothesis& h, std::initializer_list<std::pair<std::string, std::string>> given)
{
  return likelihood_of(answered(given), h);
}

std::vector<Hypothesis> all_kinds()
{
  return {solid("fine-silver"),
          solid("c11000"),
          solid("tungsten"),
          layered(Build::plated, "fine-silver", "c26000"),
          layered(Build::inlay, "ag-cdo-10", "c11000"),
          open_mix_hypothesis(tables())};
}

}  // namespace

TEST_CASE("answers are taken by any accepted name", "[bench_test]")
{
  const Answers a = answered({{"Magnet", "none"},
                              {"skin_colour", "red"},
                              {"notch-reagent", "no reaction"},
                              {"conductivity-iacs", "85"},
                              {"edge", "line"}});
  REQUIRE(a.given.size() == 5);
  CHECK(a.given[0] == std::pair<std::string, std::string>{"magnet", "no-pull"});
  CHECK(a.given[1] == std::pair<std::string, std::string>{"skin-colour", "copper"});
  CHECK(a.given[2] == std::pair<std::string, std::string>{"notch-reagent", "no-reaction"});
  CHECK(a.given[3].first == "conductivity");
  CHECK(answered({{"magnet", ""}, {"file", "untested"}}).given.empty());
}

TEST_CASE("unknown tests and answers, second answers and impossible conductivities are refused", "[bench_test]")
{
  CHECK(refusal_of([] { answered({{"smell", "bad"}}); }).code == ErrorCode::unknown_key);
  const Refusal unknown = refusal_of([] { answered({{"magnet", "purple"}}); });
  CHECK(unknown.code == ErrorCode::unknown_key);
  CHECK(unknown.field == "magnet");
  CHECK(contains(unknown.message, "purple"));
  CHECK(contains(unknown.message, "strong"));
  const Refusal twice = refusal_of([] { answered({{"magnet", "weak"}, {"magnet", "strong"}}); });
  CHECK(twice.code == ErrorCode::bad_option);
  CHECK(contains(twice.message, "twice"));
  for (const std::string value : {"400", "0", "-5", "nan", "inf", "much", "80 %", ""}) {
    INFO(value);
    if (value.empty()) {
      continue;  // blank is untested
    }
    CHECK(refusal_of([&] { answered({{"conductivity", value}}); }).code == ErrorCode::bad_option);
  }
}

TEST_CASE("no answer rules anything out or in, and answers of one test share out to 1", "[bench_test]")
{
  for (const Hypothesis& h : all_kinds()) {
    for (const BenchTest& test : tables().tests) {
      if (test.answers.empty()) {
        continue;
      }
      for (const char* reagent : {"chromate", "nitric", "other"}) {
        INFO(test.key << ", " << reagent);
        double sum = 0.0;
        for (const std::string& answer : test.answers) {
          Answers a = answered({{test.key, answer}});
          a.reagent = reagent;
          const double p = likelihood_of(a, h);
          CHECK(p > 0.0);
          CHECK(p < 1.0);
          sum += p;
        }
        CHECK_THAT(sum, WithinAbs(1.0, 1e-3));
      }
    }
  }
}

TEST_CASE("nothing seen says nothing", "[bench_test]")
{
  for (const Hypothesis& h : all_kinds()) {
    CHECK(likelihood_of({}, h) == 1.0);
  }
}

TEST_CASE("any conductivity leaves every explanation possible", "[bench_test]")
{
  for (const Hypothesis& h : all_kinds()) {
    for (const std::string value : {"0.1", "1", "15", "50", "100", "110"}) {
      const double p = likelihood(h, {{"conductivity", value}});
      CHECK(p > 0.0);
      CHECK(std::isfinite(p));
    }
  }
  CHECK(likelihood(solid("fine-silver"), {{"conductivity", "105"}}) >
        10 * likelihood(solid("c26000"), {{"conductivity", "105"}}));
  CHECK(likelihood(solid("c26000"), {{"conductivity", "28"}}) >
        10 * likelihood(solid("fine-silver"), {{"conductivity", "28"}}));
}

TEST_CASE("a coat hides the core from the skin and not from a notch", "[bench_test]")
{
  const Hypothesis plated = layered(Build::plated, "fine-silver", "c11000");
  const Hypothesis silver = solid("fine-silver");
  const Hypothesis copper = solid("c11000");
  for (const std::string colour : {"white", "copper"}) {
    INFO(colour);
    CHECK_THAT(likelihood(plated, {{"skin-colour", colour}}),
               WithinAbs(likelihood(silver, {{"skin-colour", colour}}), 1e-12));
    // The notch goes through the coat nine times in ten.
    const double through = tables().facts.notch_through_coat;
    const double expected = through * likelihood(copper, {{"notch-colour", colour}}) +
                            (1.0 - through) * likelihood(silver, {{"notch-colour", colour}});
    CHECK_THAT(likelihood(plated, {{"notch-colour", colour}}), WithinAbs(expected, 1e-12));
  }
  CHECK(likelihood(plated, {{"notch-colour", "copper"}}) > 5 * likelihood(silver, {{"notch-colour", "copper"}}));
  CHECK(likelihood(silver, {{"notch-reagent", "bright-red"}}) >
        3 * likelihood(plated, {{"notch-reagent", "bright-red"}}));
  CHECK_THAT(likelihood(plated, {{"skin-reagent", "bright-red"}}),
             WithinAbs(likelihood(silver, {{"skin-reagent", "bright-red"}}), 1e-12));
}

TEST_CASE("a notch in the face of an inlay shows the face, its back the carrier", "[bench_test]")
{
  const Hypothesis inlay = layered(Build::inlay, "fine-silver", "c11000");
  for (const std::string colour : {"white", "copper"}) {
    INFO(colour);
    CHECK_THAT(likelihood(inlay, {{"notch-colour", colour}}),
               WithinAbs(likelihood(solid("fine-silver"), {{"notch-colour", colour}}), 1e-12));
    CHECK_THAT(likelihood(inlay, {{"back-colour", colour}}),
               WithinAbs(likelihood(solid("c11000"), {{"back-colour", colour}}), 1e-12));
  }
  CHECK(likelihood(inlay, {{"sides", "differ"}}) > likelihood(solid("fine-silver"), {{"sides", "differ"}}));
  CHECK(likelihood(inlay, {{"edge", "line"}}) > likelihood(solid("fine-silver"), {{"edge", "line"}}));
}

TEST_CASE("a coin faced on both sides shows its face on either, and its core at the rim", "[bench_test]")
{
  const auto row = std::find_if(tables().builds.begin(), tables().builds.end(),
                                [](const BuildRow& build) { return build.key == "clad-coin"; });
  REQUIRE(row != tables().builds.end());
  const Hypothesis coin = layered_hypothesis(tables(), static_cast<int>(row - tables().builds.begin()),
                                             row->outer.front(), row->inner.front(), {});
  const std::string face = tables().materials[row->outer.front()].key;
  for (const std::string colour : {"white", "copper"}) {
    INFO(colour);
    CHECK_THAT(likelihood(coin, {{"back-colour", colour}}),
               WithinAbs(likelihood(solid(face), {{"back-colour", colour}}), 1e-12));
  }
  CHECK(likelihood(coin, {{"sides", "alike"}}) > 5.0 * likelihood(coin, {{"sides", "differ"}}));
  CHECK(likelihood(coin, {{"edge", "line"}}) > 5.0 * likelihood(coin, {{"edge", "plain"}}));
}

TEST_CASE("a hollow piece is one metal all round", "[bench_test]")
{
  const auto row = std::find_if(tables().builds.begin(), tables().builds.end(),
                                [](const BuildRow& build) { return build.key == "hollow-silver-ware"; });
  REQUIRE(row != tables().builds.end());
  const int sterling = find_material(tables(), "sterling");
  const Hypothesis hollow = hollow_hypothesis(tables(), static_cast<int>(row - tables().builds.begin()), sterling);
  for (const auto& [test, answer] :
       {std::pair{"sides", "alike"}, {"sides", "differ"}, {"edge", "plain"}, {"edge", "line"}}) {
    INFO(test << " " << answer);
    CHECK_THAT(likelihood(hollow, {{test, answer}}), WithinRel(likelihood(solid("sterling"), {{test, answer}}), 1e-12));
  }
}

TEST_CASE("a magnet feels iron under any coat", "[bench_test]")
{
  int steel = -1;
  for (std::size_t i = 0; i < tables().materials.size(); ++i) {
    const Material& m = tables().materials[i];
    if (m.group == "steel" && m.words.at("magnet") == "strong") {
      steel = static_cast<int>(i);
    }
  }
  REQUIRE(steel >= 0);
  const Hypothesis coated = layered(Build::plated, "fine-silver", tables().materials[steel].key);
  CHECK(likelihood(coated, {{"magnet", "strong"}}) > 5 * likelihood(solid("fine-silver"), {{"magnet", "strong"}}));
  CHECK(likelihood(coated, {{"magnet", "no-pull"}}) < 0.2 * likelihood(solid("fine-silver"), {{"magnet", "no-pull"}}));
}

// Some micrometres of iron hold too little of it.
TEST_CASE("a magnetic coat pulls weakly, a magnetic face like its metal", "[bench_test]")
{
  const BenchTest& magnet = test_called(tables(), "magnet");
  const Material& steel = tables().materials[solid("steel-low-carbon").outer_material];
  REQUIRE(steel.words.at("magnet") == "strong");
  for (const std::string& answer : magnet.answers) {
    INFO(answer);
    CHECK_THAT(likelihood(layered(Build::plated, "steel-low-carbon", "c26000"), {{"magnet", answer}}),
               WithinRel(magnet.likelihood.at("weak").at(answer), 1e-6));
    CHECK_THAT(likelihood(layered(Build::inlay, "steel-low-carbon", "c26000"), {{"magnet", answer}}),
               WithinRel(magnet.likelihood.at("strong").at(answer), 1e-6));
  }
}

TEST_CASE("a drop that was tried on a known piece counts for more", "[bench_test]")
{
  Answers red = answered({{"notch-reagent", "bright-red"}});
  Answers nothing = answered({{"notch-reagent", "no-reaction"}});
  const Hypothesis silver = solid("fine-silver");
  const Hypothesis tungsten = solid("tungsten");
  const double doubtful = likelihood_of(nothing, tungsten) / likelihood_of(nothing, silver);
  red.reagent_checked = nothing.reagent_checked = true;
  CHECK(likelihood_of(nothing, tungsten) / likelihood_of(nothing, silver) > doubtful);
  CHECK(likelihood_of(red, silver) > likelihood_of(red, tungsten));
  // An unknown drop says nothing at all.
  red.reagent = "other";
  CHECK_THAT(likelihood_of(red, silver), WithinAbs(likelihood_of(red, tungsten), 1e-12));
}

TEST_CASE("two drops from one bottle are not two independent witnesses", "[bench_test]")
{
  const Hypothesis silver = solid("fine-silver");
  const double one = likelihood(silver, {{"notch-reagent", "no-reaction"}});
  const double other = likelihood(silver, {{"back-reagent", "no-reaction"}});
  CHECK(likelihood(silver, {{"notch-reagent", "no-reaction"}, {"back-reagent", "no-reaction"}}) > 2 * one * other);
}

// Against the definition: of two drops on one metal one answer has the chance (1 - t) p1 p2 + t sqrt(p1 p2).
TEST_CASE("two drops on one metal agree more often than by chance", "[bench_test]")
{
  const AnswerOdds skin(tables(), test_called(tables(), "skin-reagent"), "dark-red", "chromate");
  const AnswerOdds notch(tables(), test_called(tables(), "notch-reagent"), "dark-red", "chromate");
  const AnswerOdds brown(tables(), test_called(tables(), "notch-reagent"), "brown", "chromate");
  const AnswerOdds colour(tables(), test_called(tables(), "notch-colour"), "grey", "chromate");
  const double t = tables().facts.one_answer_for_a_metal;
  const auto agreement = [&](const std::vector<AnswerOdds>& given, const Hypothesis& h, bool through = true,
                             bool works = true) {
    return agreement_of(tables(), given, h, {through, works, true});
  };
  const Hypothesis silver = solid("sterling");
  const double p1 = skin.probability(silver, facts_of(0));
  const double p2 = notch.probability(silver, facts_of(0));
  CHECK_THAT(agreement({skin, notch}, silver) * p1 * p2, WithinAbs((1 - t) * p1 * p2 + t * std::sqrt(p1 * p2), 1e-12));
  CHECK_THAT(agreement({notch, skin}, silver), WithinAbs(agreement({skin, notch}, silver), 1e-12));
  CHECK_THAT(agreement({skin, brown}, silver), WithinAbs(1 - t, 1e-12));
  // Other metals, other questions, a drop that no longer works.
  const Hypothesis plated = layered(Build::plated, "fine-silver", "c11000");
  CHECK(agreement({skin, notch}, plated) == 1.0);
  CHECK(agreement({skin, notch}, plated, false) > 1.0);
  CHECK(agreement({skin, colour}, silver) == 1.0);
  CHECK(agreement({skin, notch}, silver, true, false) == 1.0);
  // A second drop that repeats the first says less than it would alone.
  const Hypothesis copper = solid("c11000");
  const double first =
      likelihood(silver, {{"skin-reagent", "dark-red"}}) / likelihood(copper, {{"skin-reagent", "dark-red"}});
  const double second =
      likelihood(silver, {{"notch-reagent", "dark-red"}}) / likelihood(copper, {{"notch-reagent", "dark-red"}});
  const Answers same = answered({{"skin-reagent", "dark-red"}, {"notch-reagent", "dark-red"}});
  const double both = likelihood_of(same, silver) / likelihood_of(same, copper);
  CHECK(both > first);
  CHECK(both < first * second);
}

// Against the same odds without the book.
TEST_CASE("the book of a batch knows that drops agree", "[bench_test]")
{
  const Prepared prepared(tables(), PieceSize{});
  const Members& members = prepared.members(0.1);
  const AnswerBook book(tables(), members, "chromate");
  const Answers answers =
      answered({{"skin-reagent", "dark-red"}, {"notch-reagent", "dark-red"}, {"magnet", "no-pull"}});
  const std::vector<ByFacts> facts = book.facts_given(answers);
  const BenchOdds odds(tables(), answers);
  for (std::size_t m = 0; m < members.size(); ++m) {
    const double sum = std::accumulate(facts[m].begin(), facts[m].end(), 0.0);
    CHECK_THAT(sum, WithinRel(odds.likelihood(members[m]->hypothesis), 1e-4));
  }
}

// What a book expects of a test, given the answers, against the odds of all answers together without the book.
static void check_odds_after(const AnswerBook& book, const Tables& of, const Members& members, const Answers& answers,
                             const std::string& asked)
{
  const AnswerBook::Test& test = book.test_called(asked);
  const std::vector<ByFacts> facts = book.facts_given(answers);
  const auto coupled = book.coupled_to(answers);
  for (std::size_t m = 0; m < members.size(); m += 3) {
    std::vector<float> odds(static_cast<std::size_t>(book.columns()), 0.0F);
    book.add_odds(m, facts[m], 1.0F, odds.data());
    for (const AnswerBook::Coupled& one : coupled) {
      book.add_agreement(m, facts[m], 1.0F, one, odds.data());
    }
    for (std::size_t k = 0; k < test.row->answers.size(); ++k) {
      Answers with = answers;
      add_answer(of, with, asked, test.row->answers[k]);
      CAPTURE(m, test.row->answers[k]);
      const double expected = BenchOdds(of, with).likelihood(members[m]->hypothesis);
      CHECK_THAT(odds[static_cast<std::size_t>(test.first()) + k], WithinRel(expected, 1e-3));
    }
  }
}

// Against the same odds without the book.
TEST_CASE("the book of a batch expects a second drop to agree with the first", "[bench_test]")
{
  const Prepared prepared(tables(), PieceSize{});
  const Members& members = prepared.members(0.1);
  const AnswerBook book(tables(), members, "chromate");
  for (const Answers& answers : {answered({{"skin-reagent", "dark-red"}}),
                                 answered({{"skin-reagent", "dark-red"}, {"back-reagent", "dark-red"}}),
                                 answered({{"skin-reagent", "brown"}, {"back-reagent", "red"}, {"magnet", "weak"}})}) {
    check_odds_after(book, tables(), members, answers, "notch-reagent");
  }
}

TEST_CASE("a test depends on the facts it asks for and on no others", "[bench_test]")
{
  const Prepared prepared(tables(), PieceSize{});
  for (const std::string reagent : {"chromate", "nitric", "other"}) {
    for (const BenchTest& test : tables().tests) {
      int asked = 0;
      int depends = 0;
      for (const std::string& answer : possible_answers(test)) {
        const AnswerOdds odds(tables(), test, answer, reagent);
        asked |= odds.asks_of_facts();
        for (const Member* member : prepared.members_of_any_size()) {
          for (int which = 0; which < fact_cases; ++which) {
            for (int fact = 1; fact < fact_cases; fact *= 2) {
              const Hypothesis& hypothesis = member->hypothesis;
              const bool matters =
                  odds.probability(hypothesis, facts_of(which)) != odds.probability(hypothesis, facts_of(which ^ fact));
              depends |= matters ? fact : 0;
            }
          }
        }
      }
      CAPTURE(reagent, test.key);
      CHECK((depends & ~asked) == 0);
      CHECK((asked == depends || reagent == "other"));  // a drop of another kind says nothing at all
    }
  }
}

// A user's row may have its answers in an order of its own, or fewer of them.
TEST_CASE("drops agree by word, whatever the order of the answers", "[bench_test]")
{
  Tables own = tables();
  for (BenchTest& test : own.tests) {
    if (test.key == "back-reagent") {
      test.answers = {"no-reaction", "red", "dark-red"};
    }
  }
  const Prepared prepared(own, PieceSize{});
  const Members& members = prepared.members(0.1);
  const AnswerBook book(own, members, "chromate");
  for (const std::string told : {"dark-red", "black"}) {
    Answers answers;
    add_answer(own, answers, "skin-reagent", told);
    check_odds_after(book, own, members, answers, "back-reagent");
  }
}

TEST_CASE("the open mix takes every answer alike", "[bench_test]")
{
  const Hypothesis mix = open_mix_hypothesis(tables());
  CHECK_THAT(likelihood(mix, {{"magnet", "strong"}}), WithinAbs(likelihood(mix, {{"magnet", "no-pull"}}), 1e-12));
  CHECK_THAT(likelihood(mix, {{"skin-colour", "white"}}),
             WithinAbs(likelihood(mix, {{"skin-colour", "copper"}}), 1e-12));
}

TEST_CASE("a test proposes the answers it knows", "[bench_test]")
{
  for (const BenchTest& test : tables().tests) {
    INFO(test.key);
    const auto answers = possible_answers(test);
    CHECK_FALSE(answers.empty());
    for (const std::string& answer : answers) {
      CHECK_NOTHROW(answered({{test.key, answer}}));
    }
  }
}
