// What must hold of every verdict, whatever was weighed: probabilities and fractions that add up.

#include <rapidcheck/catch.h>

#include <cmath>
#include <numeric>

#include "bilancetta/verdict.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;

namespace
{

const Tables& tables()
{
  return built_in_tables();
}

// Tabulated once: it takes longer than a hundred verdicts.
const Prepared& prepared()
{
  static const Prepared once(tables());
  return once;
}

Piece any_piece()
{
  const ScaleClass classes[] = {ScaleClass::pocket, ScaleClass::jeweller, ScaleClass::laboratory};
  const Scale scale = scale_of(classes[*rc::gen::inRange(0, 3)]);
  const double density = *rc::gen::inRange(2500, 21500) / 1000.0;
  const auto [dry, displaced] = ideal_readings(*rc::gen::inRange(5, 3000) / 100.0, density, 0.9982, 0.0012);
  const auto shown = [&](double value) { return scale.readability_g * std::round(value / scale.readability_g); };
  Piece piece;
  piece.weighing = rise_weighing(shown(dry), shown(displaced), scale);
  piece.weighing.count = *rc::gen::inRange(1, 4);
  piece.context.place = tables().places[*rc::gen::inRange<std::size_t>(0, tables().places.size())].key;
  piece.context.even_odds = *rc::gen::inRange(0, 2) == 1;
  if (*rc::gen::inRange(0, 2) == 1) {
    const BenchTest& test = tables().tests[*rc::gen::inRange<std::size_t>(0, tables().tests.size())];
    const auto answers = possible_answers(test);
    add_answer(tables(), piece.context.answers, test.key, answers[*rc::gen::inRange<std::size_t>(0, answers.size())]);
  }
  return piece;
}

bool in_order(double low, double middle, double high)
{
  return low <= middle + 1e-9 && middle <= high + 1e-9;
}

}  // namespace

TEST_CASE("probabilities and fractions of any verdict add up", "[invariants]")
{
  rc::prop("sums", [] {
    const Piece piece = any_piece();
    const Verdict v = verdict_of(prepared(), piece, {});
    const double builds = std::accumulate(v.analysis.builds.begin(), v.analysis.builds.end(), 0.0);
    const double posterior = std::accumulate(v.analysis.posterior.begin(), v.analysis.posterior.end(), 0.0);
    // Both are 0 only where no hypothesis reaches the reading at all, and then it is said.
    RC_ASSERT(std::abs(builds - 1.0) < 1e-6 || (builds == 0.0 && !v.analysis.explained));
    RC_ASSERT(std::abs(posterior - 1.0) < 1e-6 || (posterior == 0.0 && !v.analysis.explained));
    double candidates = 0.0;
    for (const Candidate& c : v.candidates) {
      RC_ASSERT(c.probability >= 0.0);
      candidates += c.probability;
      double best = 0.0;
      for (const FractionBand& f : c.fractions) {
        RC_ASSERT(in_order(0.0, f.low, f.high));
        RC_ASSERT(f.high <= 1.0 + 1e-9);
        best += f.best;
      }
      RC_ASSERT(best <= 1.0 + 1e-6);
      if (c.probability > 0.01) {
        RC_ASSERT(best > 0.9);  // traces may be left out
      }
    }
    RC_ASSERT(candidates <= 1.0 + 1e-6);
    for (const auto& [key, band] : v.fractions) {
      RC_ASSERT(in_order(band.low, band.median, band.high));
      RC_ASSERT(band.low >= 0.0);
      RC_ASSERT(band.high <= 1.0 + 1e-9);
    }
    for (const auto& [key, band] : v.precious_g) {
      RC_ASSERT(in_order(band.low, band.median, band.high));
      RC_ASSERT(band.high <= v.mass_g + 2.0 * v.mass_u_g);  // the level is 0.95
    }
    RC_ASSERT(v.analysis.misfit_tail >= 0.0);
    RC_ASSERT(v.analysis.misfit_tail <= 1.0 + 1e-9);
    RC_ASSERT_FALSE(v.sentence.empty());
    RC_ASSERT_FALSE(v.one_thing.empty());
  });
}

TEST_CASE("mass fractions of any recipe at any draw sum to one", "[invariants]")
{
  rc::prop("fractions", [] {
    const Material& m = tables().materials[*rc::gen::inRange<std::size_t>(0, tables().materials.size())];
    const Recipe recipe(m, tables().constituents, 0);
    double z[max_variables] = {};
    for (double& value : z) {
      value = *rc::gen::inRange(-4000, 4000) / 1000.0;
    }
    std::array<double, max_components> fraction{};
    const double density = recipe.evaluate(z, fraction);
    RC_ASSERT(density > 0.3);
    RC_ASSERT(density < 25.0);
    double sum = 0.0;
    for (int i = 0; i < recipe.size; ++i) {
      RC_ASSERT(fraction[i] >= 0.0);
      sum += fraction[i];
    }
    RC_ASSERT(std::abs(sum - 1.0) < 1e-12);
  });
}

// The claim rule: a true claim is called inconsistent in at most 1 % of weighings. Half of all 0.05 g pieces
// of sterling read a rise of 0.00 on a pocket scale.
// A tail of 0 where nothing was displaced would call every such seller a liar.
TEST_CASE("a rise of nothing on a small piece refuses no claim", "[invariants]")
{
  Piece piece;
  piece.weighing = rise_weighing(0.05, 0.00, scale_of(ScaleClass::pocket));
  piece.claim = "sterling";
  const Verdict v = verdict_of(prepared(), piece, {});
  REQUIRE(v.claim.has_value());
  CHECK(v.claim->result == ClaimResult::cannot_tell);
}
