#include "odds_sheets.hpp"

#include <random>

#include "support.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;

namespace
{

// Odds that depend on the facts asked for and on nothing else.
float odds_of(int member, int test, int answer, int facts_that_matter)
{
  return 0.1F + 0.01F * static_cast<float>((member * 7 + test * 5 + answer * 3 + facts_that_matter * 11) % 50);
}

}  // namespace

// Against the sum over all eight cases.
TEST_CASE("sheets add the odds of all answers, weighed by the facts", "[odds_sheets]")
{
  const std::vector<OddsSheets::Asked> tests = {{0, 3}, {5, 10}, {4, 5}, {0, 30}, {7, 2}, {5, 9}, {1, 2}};
  constexpr int members = 3;
  OddsSheets sheets(tests, members);
  for (int m = 0; m < members; ++m) {
    for (int t = 0; t < static_cast<int>(tests.size()); ++t) {
      for (int which = 0; which < fact_cases; ++which) {
        for (int a = 0; a < tests[t].answers; ++a) {
          sheets.of(m, sheets.places()[t], which)[a] = odds_of(m, t, a, which & tests[t].facts);
        }
      }
    }
  }
  std::mt19937 random(7);
  std::uniform_real_distribution<float> uniform(0.0F, 1.0F);
  for (int m = 0; m < members; ++m) {
    ByFacts facts{};
    for (float& fact : facts) {
      fact = uniform(random);
    }
    std::vector<float> weights(static_cast<std::size_t>(sheets.rows()));
    sheets.weigh_rows(facts, weights.data());
    std::vector<float> sums(static_cast<std::size_t>(sheets.columns()), 1.0F);
    sheets.add(m, weights.data(), 0.5F, sums.data());
    for (int t = 0; t < static_cast<int>(tests.size()); ++t) {
      for (int a = 0; a < tests[t].answers; ++a) {
        double expected = 1.0;
        for (int which = 0; which < fact_cases; ++which) {
          expected += 0.5 * facts[which] * odds_of(m, t, a, which & tests[t].facts);
        }
        CAPTURE(m, t, a);
        CHECK_THAT(sums[sheets.places()[t].first + a], WithinAbs(expected, 1e-5));
      }
    }
  }
}
