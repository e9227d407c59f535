#include "candidates.hpp"

#include <cmath>

#include "bilancetta/tables.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;
using Catch::Matchers::WithinAbs;

namespace
{

struct Weighed {
  Piece piece;
  std::vector<int> plausible;
  Verdict verdict;
};

const Prepared& prepared()
{
  static const Prepared all(built_in_tables());
  return all;
}

Weighed weighed(double dry_g, double rise_g, ScaleClass scale, const char* place)
{
  Weighed w;
  w.piece.weighing = rise_weighing(dry_g, rise_g, scale_of(scale));
  w.piece.context.place = place;
  Analysis& a = w.verdict.analysis;
  a = weigh_up(w.piece.weighing, 0.95);
  const Members& members = prepared().members(coat_volume_cm3(a, w.piece.weighing));
  w.verdict.background = background_of(prepared(), members, w.piece.context);
  hold_against(a, members, w.verdict.background, true);
  w.plausible = plausible_members(a);
  w.verdict.mass_g = dry_g;
  return w;
}

}  // namespace

TEST_CASE("candidates are the likeliest, at least five and all above 1 %", "[candidates]")
{
  for (const auto& [rise_g, scale] : {std::pair{0.36, ScaleClass::pocket}, {0.352, ScaleClass::jeweller}}) {
    Weighed w = weighed(3.65, rise_g, scale, "contactor");
    const auto shares = add_candidates(built_in_tables(), w.piece, {}, w.plausible, w.verdict);
    const std::vector<Candidate>& all = w.verdict.candidates;
    REQUIRE(all.size() >= 5);
    REQUIRE(shares.size() == all.size());
    for (std::size_t k = 0; k < all.size(); ++k) {
      CHECK(all[k].probability == w.verdict.analysis.posterior[static_cast<std::size_t>(w.plausible[k])]);
      CHECK((k < 5 || all[k].probability >= 0.01));
      CHECK((k == 0 || all[k].probability <= all[k - 1].probability));
      CHECK(all[k].fit_converged);
    }
    if (all.size() < w.plausible.size()) {
      CHECK(w.verdict.analysis.posterior[static_cast<std::size_t>(w.plausible[all.size()])] < 0.01);
    }
  }
}

// Conservation of mass: the fractions of a whole are 1, and face and base are the piece.
TEST_CASE("what a candidate is made of adds up to the piece", "[candidates]")
{
  Weighed w = weighed(3.65, 0.385, ScaleClass::jeweller, "contactor");
  const auto shares = add_candidates(built_in_tables(), w.piece, {}, w.plausible, w.verdict);
  int layered = 0;
  for (std::size_t k = 0; k < shares.size(); ++k) {
    const Candidate& c = w.verdict.candidates[k];
    INFO(c.words);
    CHECK(shares[k].member == c.member);
    double sum = 0.0;
    for (const FractionBand& f : c.fractions) {
      CHECK(f.low <= f.best);
      CHECK(f.best <= f.high);
      sum += f.best;
    }
    CHECK_THAT(sum, WithinAbs(1.0, 1e-9));
    for (const ShareHistogram& share : shares[k].shares) {
      CHECK_THAT(share.place_of(1.0).below + share.place_of(1.0).within, WithinAbs(1.0, 1e-6));
    }
    if (c.build == Build::plated || c.build == Build::inlay) {
      ++layered;
      CHECK_THAT(c.face_mass_g.median + c.base_mass_g.median, WithinAbs(3.65, 1e-9));
      CHECK_THAT(c.face_mass_g.low + c.base_mass_g.high, WithinAbs(3.65, 1e-9));
    }
  }
  CHECK(layered > 0);
}

// Against the same fractions drawn anew, hypothesis by hypothesis.
TEST_CASE("fractions are the same whether candidates are drawn again or not", "[candidates]")
{
  for (const auto& [dry_g, rise_g, place] :
       {std::tuple{3.65, 0.36, "contactor"}, {22.4, 2.16, "tableware"}, {4.12, 0.29, "breaker"}}) {
    Weighed w = weighed(dry_g, rise_g, ScaleClass::pocket, place);
    const auto shares = add_candidates(built_in_tables(), w.piece, {}, w.plausible, w.verdict);
    const auto known = fraction_histograms(built_in_tables(), w.verdict.analysis, w.plausible, shares);
    const auto anew = fraction_histograms(built_in_tables(), w.verdict.analysis, w.plausible);
    REQUIRE(known.size() == anew.size());
    double most = 0.0;
    for (std::size_t c = 0; c < known.size(); ++c) {
      INFO(built_in_tables().constituents[c].key);
      for (const double p : {0.025, 0.5, 0.975}) {
        // What lies below an end: ends themselves move far where hardly any piece is.
        const double end = known[c].quantile(p);
        const ShareHistogram::Place there = anew[c].place_of(end);
        CHECK(there.below <= p + 0.005);
        CHECK(there.below + there.within >= p - 0.005);
        most = std::max(most, end);
      }
    }
    CHECK(most > 0.5);
  }
}
