#include "bilancetta/learned_mix.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "bilancetta/verdict.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace
{

const Prepared& prepared()
{
  static const Prepared all(built_in_tables());
  return all;
}

const Context& at_the_connector()
{
  static const Context context{.place = "connector", .form = "unsure", .even_odds = false, .answers = {}};
  return context;
}

int solid(const std::string& key)
{
  return find_material(built_in_tables(), key);
}

// A piece that must be one of some hypotheses, all alike to the scale.
struct Looks {
  Background background;
  Analysis analysis;
};
Looks like(const std::vector<int>& hypotheses)
{
  Looks one;
  const auto& members = prepared().members(0.1);
  one.background.prior = prior_of(built_in_tables(), members, at_the_connector());
  one.background.test_likelihood.assign(members.size(), 1.0);
  one.analysis.members = &members;
  one.analysis.evidence.assign(members.size(), 0.0);
  for (const int i : hypotheses) {
    one.analysis.evidence[i] = 1.0;
  }
  one.analysis.posterior = posterior_of(one.background.prior, one.analysis.evidence, one.background.test_likelihood);
  return one;
}

double learned(const LearnedMix& mix, long row, Looks piece, int hypothesis)
{
  mix.apply(row, at_the_connector(), "", piece.analysis);
  return piece.analysis.posterior[hypothesis];
}

}  // namespace

TEST_CASE("a piece alone in the jar does not teach itself", "[learned_mix]")
{
  const int copper = solid("c11000");
  const int brass = solid("c26000");
  const Looks either = like({copper, brass});
  LearnedMix mix(prepared());
  mix.add(0, at_the_connector(), "", mix_row_of(either.analysis, either.background));
  mix.learn();
  CHECK_THAT(learned(mix, 0, either, copper), WithinAbs(either.analysis.posterior[copper], 1e-6));
}

TEST_CASE("clear pieces teach what an unclear one is, at its own place only", "[learned_mix]")
{
  const int copper = solid("c11000");
  const int brass = solid("c26000");
  const Looks clear = like({brass});
  const Looks either = like({copper, brass});
  LearnedMix mix(prepared());
  for (long row = 0; row < 30; ++row) {
    mix.add(row, at_the_connector(), "", mix_row_of(clear.analysis, clear.background));
  }
  mix.add(30, at_the_connector(), "", mix_row_of(either.analysis, either.background));
  mix.learn();
  CHECK(learned(mix, 30, either, brass) > 0.9);
  // Whoever came later is judged by the same mix.
  CHECK(learned(mix, 31, either, brass) > 0.9);
  const std::vector<double> share = mix.mix_of(at_the_connector());
  CHECK_THAT(std::accumulate(share.begin(), share.end(), 0.0), WithinRel(1.0, 1e-6));
  CHECK(share[brass] > 0.8);
  Context relay = at_the_connector();
  relay.place = "relay";
  CHECK(mix.mix_of(relay).empty());
}

TEST_CASE("a lot teaches as one piece", "[learned_mix]")
{
  const int copper = solid("c11000");
  const int brass = solid("c26000");
  const Looks clear = like({brass});
  const Looks either = like({copper, brass});
  const auto taught_by = [&](const std::string& lot) {
    LearnedMix mix(prepared());
    for (long row = 0; row < 30; ++row) {
      mix.add(row, at_the_connector(), lot, mix_row_of(clear.analysis, clear.background));
    }
    mix.learn();
    return learned(mix, 99, either, brass);
  };
  CHECK(taught_by("pins") < taught_by("") - 0.05);
}

// Two materials that no piece can tell apart, prior p and 1 - p. All pieces being unclear, the jar has taught nothing
// of which it is: by symmetry of the model P(material) stays the prior's.
TEST_CASE("unclear pieces do not talk each other into certainty", "[learned_mix]")
{
  const int copper = solid("c11000");
  const int brass = solid("c26000");
  const Looks either = like({copper, brass});
  LearnedMix mix(prepared());
  for (long row = 0; row < 40; ++row) {
    mix.add(row, at_the_connector(), "", mix_row_of(either.analysis, either.background));
  }
  mix.learn();
  const double before = either.analysis.posterior[copper];
  double mean = 0.0;
  for (long row = 0; row < 40; ++row) {
    mean += learned(mix, row, either, copper) / 40.0;
  }
  CHECK_THAT(mean, WithinAbs(before, 0.25));
}

TEST_CASE("learning is the same twice", "[learned_mix]")
{
  const Looks either = like({solid("c11000"), solid("c26000")});
  const MixRow says = mix_row_of(either.analysis, either.background);
  std::vector<double> mixes[2];
  for (auto& share : mixes) {
    LearnedMix mix(prepared());
    for (long row = 0; row < 20; ++row) {
      mix.add(row, at_the_connector(), "", says);
    }
    mix.learn();
    share = mix.mix_of(at_the_connector());
  }
  CHECK(mixes[0] == mixes[1]);
}
