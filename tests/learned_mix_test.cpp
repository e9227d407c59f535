#include "bilancetta/learned_mix.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "bilancetta/verdict.hpp"
#include "validation/simulated_weighing.hpp"

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
  static const Context context{.place = "connector", .form = Form::unsure, .even_odds = false, .answers = {}};
  return context;
}

int solid(const std::string& key)
{
  return find_material(built_in_tables(), key);
}

constexpr double as_one_each = 1e12;  // so many trusted pieces that each counts as one

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

// Chances of a hypothesis for pieces that each can be some hypotheses, all alike, by enumeration.
class PartitionSum
{
 public:
  PartitionSum(const std::vector<std::vector<int>>& can_be, const std::vector<double>& prior)
      : can_be_(can_be), prior_(prior), kind_(can_be.size(), 0), sum_(can_be.size(), 0.0)
  {
  }
  std::vector<double> chances(int of)
  {
    of_ = of;
    part(0, 0);
    for (double& value : sum_) {
      value /= total_;
    }
    return sum_;
  }

 private:
  // The hypotheses that one node of the tree holds, as level 0 to 3: row, family, build, everything.
  static bool same_node(int level, int a, int b)
  {
    const Hypothesis& x = prepared().members(0.1)[a]->hypothesis;
    const Hypothesis& y = prepared().members(0.1)[b]->hypothesis;
    const auto group = [](int material) {
      return material < 0 ? std::string() : built_in_tables().materials[material].group;
    };
    return level == 3 || (x.build == y.build && (level == 2 || (group(x.outer_material) == group(y.outer_material) &&
                                                                x.inner_material == y.inner_material &&
                                                                x.kind == y.kind && (level == 1 || a == b))));
  }
  double of_node(int level, int first) const
  {
    double sum = 0.0;
    for (std::size_t i = 0; i < prior_.size(); ++i) {
      sum += same_node(level, first, static_cast<int>(i)) ? prior_[i] : 0.0;
    }
    return sum;
  }
  // Sum over nodes of P(node) x P(all pieces of a kind | node), and of it what has piece `t` be `of_`.
  std::pair<double, double> kind_sum(int kind, std::size_t t)
  {
    double all = 0.0;
    double with = 0.0;
    const std::vector<double> level_chance = {0.5, 0.2, 0.1, 0.2};
    const auto first_member = static_cast<std::size_t>(std::find(kind_.begin(), kind_.end(), kind) - kind_.begin());
    for (int level = 0; level < 4; ++level) {
      std::vector<int> seen;
      for (const int node : can_be_[first_member]) {
        if (std::any_of(seen.begin(), seen.end(), [&](int other) { return same_node(level, node, other); })) {
          continue;
        }
        seen.push_back(node);
        const double whole = of_node(level, node);
        double product = level_chance[level] * whole;
        double share_of = 1.0;
        for (std::size_t u = 0; u < kind_.size(); ++u) {
          double sum = 0.0;
          double those = 0.0;
          for (const int i : can_be_[u]) {
            const double p = same_node(level, node, i) ? prior_[i] / whole : 0.0;
            sum += p;
            those += i == of_ ? p : 0.0;
          }
          product *= kind_[u] == kind ? sum : 1.0;
          share_of = u == t && sum > 0.0 ? those / sum : share_of;
        }
        all += product;
        with += product * share_of;
      }
    }
    return {all, with};
  }
  void part(std::size_t piece, int kinds)
  {
    if (piece < kind_.size()) {
      for (int k = 0; k <= kinds; ++k) {
        kind_[piece] = k;
        part(piece + 1, std::max(kinds, k + 1));
      }
      return;
    }
    double chance = 0.0;
    for (const double a : {0.5, 2.0, 8.0, 32.0}) {
      const double each = a / 24.0;
      double of_partition = std::tgamma(a) / std::tgamma(a + static_cast<double>(kind_.size()));
      for (int k = 0; k < kinds; ++k) {
        const auto n = static_cast<double>(std::count(kind_.begin(), kind_.end(), k));
        of_partition *= (24.0 - k) * std::tgamma(each + n) / std::tgamma(each);
      }
      chance += of_partition;
    }
    for (int k = 0; k < kinds; ++k) {
      chance *= kind_sum(k, 0).first;
    }
    total_ += chance;
    for (std::size_t t = 0; t < kind_.size() && chance > 0.0; ++t) {
      const auto [all, with] = kind_sum(kind_[t], t);
      sum_[t] += chance * with / all;
    }
  }

  std::vector<std::vector<int>> can_be_;
  std::vector<double> prior_;
  std::vector<int> kind_;
  std::vector<double> sum_;
  double total_ = 0.0;
  int of_ = 0;
};

// By how much a simulated jar of 150 relay pieces lowers the mean of -ln P(truth); 0 materials: as the tables expect.
double gain_in_jar(int materials, unsigned seed)
{
  Simulation simulation(seed);
  const Context context{.place = "relay", .form = Form::unsure, .even_odds = false, .answers = {}};
  const Background background = background_of(prepared(), prepared().members(0.1), context);
  std::vector<double> content = materials > 0 ? std::vector<double>(background.prior.size(), 0.0) : background.prior;
  for (int k = 0; k < materials; ++k) {
    content[simulation.index(background.prior)] += 1.0;
  }
  LearnedMix mix(prepared());
  std::vector<std::pair<std::size_t, Analysis>> jar;
  for (long row = 0; row < 150; ++row) {
    const double dry = simulation.uniform(0.5, 4.0);
    const Members& members = prepared().members(dry / 9.0);
    const std::size_t truth = simulation.index(content);
    Analysis a = weigh_up(
        simulation.weighed(scale_of(ScaleClass::jeweller), dry, simulation.density_of(members[truth]->hypothesis)),
        0.95);
    hold_against(a, members, background, false);
    mix.add(row, context, "", mix_row_of(a, background));
    jar.emplace_back(truth, std::move(a));
  }
  mix.learn();
  double fixed = 0.0;
  double after = 0.0;
  for (std::size_t row = 0; row < jar.size(); ++row) {
    auto& [truth, a] = jar[row];
    fixed -= std::log(std::max(a.posterior[truth], 1e-12));
    mix.apply(static_cast<long>(row), context, "", a);
    after -= std::log(std::max(a.posterior[truth], 1e-12));
  }
  return 1.0 - after / fixed;
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
  const int brass = solid("c26000");
  const Looks clear = like({brass});
  const auto rest_after = [&](long rows, const std::string& lot) {
    LearnedMix mix(prepared());
    for (long row = 0; row < rows; ++row) {
      mix.add(row, at_the_connector(), lot, mix_row_of(clear.analysis, clear.background));
    }
    mix.learn();
    return 1.0 - mix.mix_of(at_the_connector())[brass];
  };
  CHECK_THAT(rest_after(30, "pins"), WithinRel(rest_after(1, ""), 0.02));
  CHECK(rest_after(30, "pins") > 3.0 * rest_after(30, ""));
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

// The model of docs/method.md, section 16, with each piece counted as one, summed over every way to part four pieces
// into kinds.
TEST_CASE("a small jar is learned as by summing over all partitions", "[learned_mix]")
{
  const std::vector<std::vector<int>> can_be = {{solid("c11000"), solid("c26000"), solid("fine-silver")},
                                                {solid("c11000"), solid("c26000")},
                                                {solid("c26000"), solid("fine-silver")},
                                                {solid("c26000"), solid("c36000")}};
  const std::size_t pieces = can_be.size();
  LearnedMix mix(prepared(), pieces, as_one_each);
  std::vector<Looks> looks;
  for (std::size_t t = 0; t < pieces; ++t) {
    looks.push_back(like(can_be[t]));
    mix.add(static_cast<long>(t), at_the_connector(), "", mix_row_of(looks[t].analysis, looks[t].background));
  }
  mix.learn();
  const std::vector<double> by_sum = PartitionSum(can_be, looks[0].background.prior).chances(solid("c26000"));
  for (std::size_t t = 0; t < pieces; ++t) {
    const double by_tables = looks[t].analysis.posterior[solid("c26000")];
    CHECK_THAT(learned(mix, static_cast<long>(t), looks[t], solid("c26000")),
               WithinAbs(0.05 * by_tables + 0.95 * by_sum[t], 0.003));
    CHECK(std::abs(by_sum[t] - by_tables) > 0.04);  // there is something to learn
  }
}

TEST_CASE("a jar of five materials is told better, one as the tables expect hardly worse", "[learned_mix]")
{
  double five = 0.0;
  double usual = 0.0;
  for (unsigned seed = 1; seed <= 16; ++seed) {
    five += gain_in_jar(5, seed) / 16.0;
    usual += gain_in_jar(0, seed) / 16.0;
  }
  CHECK(five > 0.15);
  CHECK(usual > -0.02);
  CHECK(usual < 0.05);  // nobody gains much on the prior that is true
}

// Brasses of all zinc contents lie between the grades of the tables. One broad row of rare solid silver covers them
// all, and took three quarters of the jar when the tables' rows were taken for all there is.
TEST_CASE("pieces between the rows of the tables do not become silver by their number", "[learned_mix]")
{
  constexpr long pieces = 150;
  Simulation simulation(9);
  const Background background = background_of(prepared(), prepared().members(0.1), at_the_connector());
  LearnedMix mix(prepared());
  std::vector<Analysis> jar;
  for (long row = 0; row < pieces; ++row) {
    const double dry = simulation.uniform(1.0, 5.0);
    const double density = simulation.uniform(8.35, 8.87);
    Analysis a = weigh_up(simulation.weighed(scale_of(ScaleClass::jeweller), dry, density), 0.95);
    hold_against(a, prepared().members(dry / 9.0), background, false);
    mix.add(row, at_the_connector(), "", mix_row_of(a, background));
    jar.push_back(std::move(a));
  }
  mix.learn();
  double solid_silver = 0.0;  // pieces
  for (long row = 0; row < pieces; ++row) {
    Analysis& a = jar[static_cast<std::size_t>(row)];
    mix.apply(row, at_the_connector(), "", a);
    for (std::size_t i = 0; i < a.posterior.size(); ++i) {
      const MemberTraits& traits = a.members->traits(i);
      solid_silver += traits.holds_silver && traits.build == Build::solid ? a.posterior[i] : 0.0;
    }
  }
  CHECK(solid_silver < 0.025 * pieces);
}

// What is left for the rest of a mix after N pieces of one material goes with 1 / (a N / (a + N)).
TEST_CASE("many pieces teach no more than a hundred would", "[learned_mix]")
{
  const int brass = solid("c26000");
  const Looks clear = like({brass});
  const MixRow says = mix_row_of(clear.analysis, clear.background);
  const auto rest_after = [&](long pieces) {
    LearnedMix mix(prepared());
    for (long row = 0; row < pieces; ++row) {
      mix.add(row, at_the_connector(), "", says);
    }
    mix.learn();
    return 1.0 - mix.mix_of(at_the_connector())[brass];
  };
  const double after_ten = rest_after(10);    // as 9.1
  const double after_many = rest_after(900);  // as 90
  CHECK(after_many > 0.07 * after_ten);
  CHECK(after_many < 0.3 * after_ten);
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

namespace
{

// A jar of pieces of three materials of a contactor, each fit by many rows, weighed on a pocket scale; every other
// piece of the first is of a lot.
struct Weighed {
  std::string lot;
  Analysis analysis;
  MixRow says;
};
const Context& at_the_contactor()
{
  static const Context context{.place = "contactor", .form = Form::unsure, .even_odds = false, .answers = {}};
  return context;
}
std::vector<Weighed> jar_of_three(int pieces, bool lots)
{
  Simulation simulation(5);
  const Background background = background_of(prepared(), prepared().members(0.1), at_the_contactor());
  std::vector<Weighed> jar;
  for (int row = 0; row < pieces; ++row) {
    const double density = std::array{10.13, 8.90, 8.53}[static_cast<std::size_t>(row % 3)];
    const double dry = simulation.uniform(0.8, 4.0);
    Weighed one{lots && row % 6 == 0 ? "pins" : "", {}, {}};
    one.analysis = weigh_up(simulation.weighed(scale_of(ScaleClass::pocket), dry, density), 0.95);
    hold_against(one.analysis, prepared().members(dry / 9.0), background, false);
    one.says = mix_row_of(one.analysis, background);
    jar.push_back(std::move(one));
  }
  return jar;
}

// The posterior of each piece of a jar whose rows stand in this order.
std::vector<std::vector<double>> learned_in_order(const std::vector<Weighed>& jar,
                                                  const std::vector<std::size_t>& order, std::size_t most_teachers,
                                                  int threads, unsigned seed = 1)
{
  LearnedMix mix(prepared(), most_teachers);
  for (std::size_t row = 0; row < order.size(); ++row) {
    mix.add(static_cast<long>(row), at_the_contactor(), jar[order[row]].lot, jar[order[row]].says);
  }
  mix.learn(threads, seed);
  std::vector<std::vector<double>> posterior(jar.size());
  for (std::size_t row = 0; row < order.size(); ++row) {
    Analysis a = jar[order[row]].analysis;
    mix.apply(static_cast<long>(row), at_the_contactor(), jar[order[row]].lot, a);
    posterior[order[row]] = a.posterior;
  }
  return posterior;
}

std::vector<std::size_t> rows_in_order(std::size_t rows, std::size_t stride)
{
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < rows; ++i) {
    order.push_back(i * stride % rows);
  }
  return order;
}

}  // namespace

TEST_CASE("a jar teaches the same in any order and on any number of threads", "[learned_mix]")
{
  std::vector<Weighed> jar = jar_of_three(60, true);
  jar.push_back(jar[1]);  // two that read the same
  for (const std::size_t most_teachers : {100, 20}) {
    const auto posterior = learned_in_order(jar, rows_in_order(jar.size(), 1), most_teachers, 1);
    CHECK(learned_in_order(jar, rows_in_order(jar.size(), 17), most_teachers, 2) == posterior);
    CHECK(posterior[1] == posterior.back());
    CHECK(posterior[1] != jar[1].analysis.posterior);
  }
}

TEST_CASE("what a jar teaches hardly depends on the seed", "[learned_mix]")
{
  const std::vector<Weighed> jar = jar_of_three(120, false);
  const std::vector<std::size_t> order = rows_in_order(jar.size(), 1);
  const auto one = learned_in_order(jar, order, 1000, 0, 1);
  const auto other = learned_in_order(jar, order, 1000, 0, 1001);
  double most = 0.0;
  for (std::size_t row = 0; row < jar.size(); ++row) {
    for (std::size_t i = 0; i < one[row].size(); ++i) {
      most = std::max(most, std::abs(one[row][i] - other[row][i]));
    }
  }
  CHECK(most < 0.02);
}
