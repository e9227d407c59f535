#include "bilancetta/jar.hpp"

#include <malloc.h>

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>
#include <random>
#include <sstream>

#include "bilancetta/jar_report.hpp"
#include "jar_report_words.hpp"
#include "support.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace
{

// A row with a few explanations: index, probability, silver fraction, its sd.
struct Says {
  int hypothesis;
  double probability, silver, sd;
};
JarRow row_of(double mass_g, const std::vector<Says>& says, const std::string& pile = "undecided")
{
  JarRow row;
  row.mass_g = mass_g;
  row.density = 9.9;
  row.density_u = 0.3;
  row.volume_each_cm3 = mass_g / 9.9;
  row.context = "breaker/solid";
  row.pile = pile;
  for (const Says& s : says) {
    JarExplanation& e = row.explanations.emplace_back();
    e.hypothesis = s.hypothesis;
    e.probability = s.probability;
    e.prior = s.probability;
    e.share[0] = {s.silver, s.sd};
  }
  return row;
}

double silver_median(const JarSummary& s)
{
  return s.metals[0].alike_g.median;
}

const Prepared& prepared()
{
  static const Prepared all(built_in_tables());
  return all;
}

}  // namespace

// The reference is the simulation itself: the kind of all buttons and the departure of its recipe are drawn anew in
// each jar, as the posterior has them, and the jar's true silver is added up beside the program.
TEST_CASE("the band of 200 like buttons holds the truth because they are one kind", "[jar]")
{
  std::mt19937_64 random(5);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  std::normal_distribution<double> normal;
  constexpr int jars = 2000;
  int held = 0;
  int held_apart = 0;
  Jar jar;
  for (int i = 0; i < 200; ++i) {
    JarRow row = row_of(0.5, {{0, 0.6, 0.86, 0.02}, {1, 0.4, 0.55, 0.08}});
    row.density += 0.3 * normal(random);  // like pieces read differently
    jar.add(row);
  }
  const JarSummary s = jar.summary({});
  for (int k = 0; k < jars; ++k) {
    const bool solid = uniform(random) < 0.6;
    const double silver = 100.0 * (solid ? 0.86 + 0.02 * normal(random) : 0.55 + 0.08 * normal(random));
    const auto inside = [&](const Band& band) { return band.low <= silver && silver <= band.high ? 1 : 0; };
    held += inside(s.metals[0].alike_g);
    held_apart += inside(s.metals[0].independent_g);
  }
  CHECK(held >= 0.94 * jars);
  CHECK(held <= 0.97 * jars);
  CHECK(held_apart < 0.20 * jars);
  CHECK(s.kinds == 1);
}

// Two materials of equal odds, 1 g a row: the number of rows of the first is binomial (n, 1/2), so the independent
// total of n rows that hold 1 or 0 has the quantiles of that binomial. For n = 20: P(5 <= X <= 15) = 0.988,
// P(6 <= X <= 14) = 0.959.
TEST_CASE("rows of their own add as a binomial, a lot as one draw", "[jar]")
{
  Jar jar;
  Jar lots;
  for (int i = 0; i < 20; ++i) {
    JarRow row = row_of(1.0, {{0, 0.5, 1.0, 0.0}, {1, 0.5, 0.0, 0.0}});
    jar.add(row);
    row.lot = "rivets";
    lots.add(row);
  }
  const Band apart = jar.summary({}).metals[0].independent_g;
  CHECK_THAT(apart.low, WithinAbs(6.0, 1.01));
  CHECK_THAT(apart.high, WithinAbs(14.0, 1.01));
  CHECK_THAT(apart.median, WithinAbs(10.0, 0.01));
  const JarSummary lot = lots.summary({});
  REQUIRE(lot.lots.size() == 1);
  CHECK_THAT(lot.lots[0].mass_g, WithinRel(20.0, 1e-12));
  CHECK(lot.lots[0].rows == 20);
  for (const Band& band : {lot.metals[0].alike_g, lot.metals[0].independent_g, lot.lots[0].silver_g}) {
    CHECK_THAT(band.low, WithinAbs(0.0, 1e-9));
    CHECK_THAT(band.high, WithinAbs(20.0, 1e-9));
  }
}

// A hundred such rows are as normal as makes no difference: sqrt(100 / 4) = 5 either side of 50.
TEST_CASE("many rows of their own scatter as a binomial too", "[jar]")
{
  Jar jar;
  for (int i = 0; i < 100; ++i) {
    jar.add(row_of(1.0, {{0, 0.5, 1.0, 0.0}, {1, 0.5, 0.0, 0.0}}));
  }
  const Band apart = jar.summary({}).metals[0].independent_g;
  CHECK_THAT(apart.median, WithinAbs(50.0, 0.5));
  CHECK_THAT((apart.high - apart.low) / 3.92, WithinRel(5.0, 0.05));
}

// A jar may have as many lots as rows; a row has up to some hundred explanations, most of which hold silver alone.
TEST_CASE("a lot of one row takes little memory", "[jar]")
{
  constexpr int lots = 1000;
  constexpr int explanations = 200;
  std::vector<Says> says;
  says.reserve(explanations);
  for (int k = 0; k < explanations; ++k) {
    says.push_back({10 * k, 1.0 / explanations, 0.5, 0.1});
  }
  JarRow row = row_of(1.0, says);
  const auto held = [] {
    const auto all = mallinfo2();
    return all.uordblks + all.hblkhd;
  };
  const std::size_t before = held();
  Jar jar;
  for (int i = 0; i < lots; ++i) {
    row.lot = std::to_string(i);
    jar.add(row);
  }
  CHECK((held() - before) / lots < std::size_t{50} * explanations);
  CHECK(jar.summary({}).lots.size() == lots);
}

// Bayes by hand: odds 1 : 1 before, evidence 3 : 1 in each of two rows, worth 2 / 1.25 = 1.6 readings: 3^1.6 : 1. An
// answer of 4 : 1 in one of them counts once.
TEST_CASE("a lot multiplies evidence and counts an answer once", "[jar]")
{
  Jar jar;
  JarRow row = row_of(2.0, {{3, 0.75, 1.0, 0.0}, {7, 0.25, 0.0, 0.0}});
  row.lot = "a";
  row.explanations[0].prior = row.explanations[1].prior = 0.5;
  row.explanations[0].evidence = 0.9;
  row.explanations[1].evidence = 0.3;
  jar.add(row);
  row.tested = true;
  row.explanations[0].test_likelihood = 0.2;
  row.explanations[1].test_likelihood = 0.8;
  jar.add(row);
  const double odds = std::pow(3.0, 1.6) / 4.0;
  const JarSummary s = jar.summary({});
  CHECK(s.lots[0].best == 3);
  CHECK_THAT(s.lots[0].probability, WithinRel(odds / (1.0 + odds), 1e-9));
}

// By hand: 1 g lists 1 and 2, 3 g lists 2 and 5. What a row does not list counts as the smallest value it lists, so
// that evidence has 2 : 1 of the first row for 1, and 3 : 1 of the second for 5; worth 1.6 / 2 readings each.
TEST_CASE("rows of a lot may list other explanations, in any order", "[jar]")
{
  JarRow light = row_of(1.0, {{2, 0.5, 0.4, 0.0}, {1, 0.5, 0.8, 0.0}});
  JarRow heavy = row_of(3.0, {{5, 0.5, 0.0, 0.0}, {2, 0.5, 0.2, 0.0}});
  for (JarRow* row : {&light, &heavy}) {
    row->lot = "a";
    row->explanations[0].prior = row->explanations[1].prior = 0.5;
    row->explanations[0].evidence = row->explanations[1].evidence = 0.1;
  }
  light.explanations[1].evidence = 0.2;
  heavy.explanations[0].evidence = 0.3;
  heavy.explanations[0].share[1] = {0.5, 0.0};
  for (const bool light_first : {true, false}) {
    Jar jar;
    jar.add(light_first ? light : heavy);
    jar.add(light_first ? heavy : light);
    const JarSummary s = jar.summary({});
    const double of_1 = std::pow(2.0, 0.8);
    const double of_5 = std::pow(3.0, 0.8);
    const double all = of_1 + 1.0 + of_5;
    CHECK(s.lots[0].best == 5);
    CHECK_THAT(s.lots[0].probability, WithinRel(of_5 / all, 1e-9));
    // 4 g of 1 hold 0.8 of silver, of 2 what both say, 0.4 g and 0.6 g, of 5 none but half of it gold.
    CHECK_THAT(s.metals[0].alike_g.mean, WithinRel((3.2 * of_1 + 1.0 * 1.0) / all, 0.002));
    CHECK_THAT(s.metals[1].alike_g.mean, WithinRel(2.0 * of_5 / all, 0.002));
  }
}

TEST_CASE("the recipe's departure is shared by all pieces of a material, the sitting's errors by all", "[jar]")
{
  Jar jar;
  for (int i = 0; i < 50; ++i) {
    JarRow row = row_of(2.0, {{0, 1.0, 0.9, 0.009}});
    row.density = 5.0 + 0.3 * i;  // kinds of their own
    row.density_u = 0.001;
    row.sensitivity = Eigen::Vector2d(0.02, 0.01);
    jar.add(row);
  }
  // Shared wholly: 1 % of 90 g; independent it would be 0.13 g.
  JarOptions options;
  const Band shared = jar.summary(options).metals[0].alike_g;
  CHECK_THAT((shared.high - shared.low) / 3.92, WithinRel(0.9, 0.05));
  // The sum of j is (1, 0.5): with variances 4 and 16 and covariance 2 the sitting adds 4 + 4 + 2 = 10 g2.
  options.shared_covariance = (Eigen::Matrix2d() << 4.0, 2.0, 2.0, 16.0).finished();
  const JarSummary s = jar.summary(options);
  CHECK_THAT(s.sitting_u_g, WithinRel(std::sqrt(10.0), 1e-12));
  const Band wide = s.metals[0].alike_g;
  CHECK_THAT((wide.high - wide.low) / 3.92, WithinRel(std::sqrt(10.0 + 0.81), 0.05));
}

// Independent of each other, ten times as much for a hundred rows as for one: sqrt(100) x 0.5 g x 0.9.
TEST_CASE("the rows' own errors of mass are errors of the jar", "[jar]")
{
  Jar jar;
  for (int i = 0; i < 100; ++i) {
    JarRow row = row_of(5.0, {{0, 1.0, 0.9, 0.0}});
    row.context = std::to_string(i);
    row.mass_u_g = 0.5;
    jar.add(row);
  }
  const Band total = jar.summary({}).metals[0].alike_g;
  CHECK_THAT((total.high - total.low) / 3.92, WithinRel(4.5, 0.05));
}

// At one load the scale departs from linear by one number: 100 rows of 5 g are all too heavy by it, or all too light.
// 100 x 0.03 g of it, and 10 x 0.04 g of the rows' own.
TEST_CASE("like pieces of a jar share the linearity of the scale", "[jar]")
{
  Jar jar;
  for (int i = 0; i < 100; ++i) {
    JarRow row = row_of(5.0, {{0, 1.0, 0.9, 0.0}}, i < 50 ? "solid-silver" : "undecided");
    row.mass_u_g = 0.05;
    row.mass_linearity_u_g = 0.03;
    jar.add(row);
  }
  const JarSummary s = jar.summary({});
  const auto width = [](const Band& band) { return (band.high - band.low) / 3.92; };
  CHECK_THAT(width(s.metals[0].alike_g), WithinRel(0.9 * std::hypot(3.0, 0.4), 0.02));
  CHECK_THAT(width(s.metals[0].independent_g), WithinRel(0.9 * std::hypot(3.0, 0.4), 0.02));
  for (const PileTotal& pile : s.piles) {
    CHECK_THAT(width(pile.silver_g), WithinRel(0.9 * std::hypot(1.5, 0.4 * std::sqrt(0.5)), 0.02));
  }
}

namespace
{

// Kinds far apart in density, of one to four rows each, on two piles: what they may be is lopsided, and shared.
std::vector<JarRow> lopsided_rows()
{
  std::mt19937_64 random(11);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  std::vector<JarRow> rows;
  for (int kind = 0; kind < 30; ++kind) {
    for (int i = 0; i <= kind % 4; ++i) {
      const double rare = 0.02 + 0.1 * uniform(random);
      JarRow row =
          row_of(1.0 + 9.0 * uniform(random),
                 {{2, rare, 0.8, 0.05}, {0, 0.5 * (1.0 - rare), 0.04, 0.03}, {1, 0.5 * (1.0 - rare), 0.0, 0.0}},
                 i < 2 ? "base-metal" : "undecided");
      row.density = 3.0 + 0.5 * kind;
      row.density_u = 0.001;
      row.volume_each_cm3 = 1.0;
      rows.push_back(row);
    }
  }
  for (int i = 0; i < 6; ++i) {
    rows.push_back(row_of(2.0, {{0, 0.7, 0.9, 0.02}, {1, 0.3, 0.0, 0.0}}));
    rows.back().lot = i < 3 ? "a" : "b";
  }
  return rows;
}

std::vector<TotalBand> bands_of(const JarSummary& s)
{
  std::vector<TotalBand> bands = {s.metals[0].alike_g, s.metals[0].independent_g};
  for (const PileTotal& pile : s.piles) {
    bands.push_back(pile.silver_g);
  }
  for (const LotTotal& lot : s.lots) {
    bands.push_back(lot.silver_g);
  }
  return bands;
}

}  // namespace

// The explanations of a row, too, stand in any order. (The ends of one pile moved by half with the order of its rows.)
TEST_CASE("a jar holds the same in whatever order its rows come", "[jar]")
{
  std::mt19937_64 random(12);
  std::vector<JarRow> rows = lopsided_rows();
  std::vector<TotalBand> first;
  for (int order = 0; order < 8; ++order) {
    Jar jar;
    for (const JarRow& row : rows) {
      jar.add(row);
    }
    const std::vector<TotalBand> bands = bands_of(jar.summary({}));
    first = first.empty() ? bands : first;
    REQUIRE(bands.size() == 6);
    for (std::size_t k = 0; k < bands.size(); ++k) {
      CHECK_THAT(bands[k].low, WithinRel(first[k].low, 1e-9));
      CHECK_THAT(bands[k].median, WithinRel(first[k].median, 1e-9));
      CHECK_THAT(bands[k].high, WithinRel(first[k].high, 1e-9));
    }
    std::shuffle(rows.begin(), rows.end(), random);
    for (JarRow& row : rows) {
      std::shuffle(row.explanations.begin(), row.explanations.end(), random);
    }
  }
}

// The reference draws each kind's material and each material's departure with the library's own random numbers.
TEST_CASE("the ends of a total are off by no more than is told of them", "[jar]")
{
  struct Kind {
    double mass_g = 0.0;
    std::map<int, double> probability_g;
  };
  std::map<double, Kind> kinds;
  Jar jar;
  for (const JarRow& row : lopsided_rows()) {
    if (row.lot.empty()) {
      jar.add(row);
      kinds[row.density].mass_g += row.mass_g;
      for (const JarExplanation& e : row.explanations) {
        kinds[row.density].probability_g[e.hypothesis] += row.mass_g * e.probability;
      }
    }
  }
  std::mt19937_64 random(13);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  std::normal_distribution<double> normal;
  const auto log_normal = [](double mean, double sd, double z) {
    const double variance = std::log1p(sd * sd / (mean * mean));
    return std::min(1.0, mean * std::exp(std::sqrt(variance) * z - 0.5 * variance));
  };
  std::vector<double> totals(400000);
  double mean = 0.0;
  for (double& total : totals) {
    const double fractions[] = {log_normal(0.04, 0.03, normal(random)), 0.0, log_normal(0.8, 0.05, normal(random))};
    for (const auto& [density, kind] : kinds) {
      double u = uniform(random) * kind.mass_g;
      int hypothesis = 0;
      while (hypothesis < 2 && u >= kind.probability_g.at(hypothesis)) {
        u -= kind.probability_g.at(hypothesis++);
      }
      total += kind.mass_g * fractions[hypothesis];
    }
    mean += total / static_cast<double>(totals.size());
  }
  std::sort(totals.begin(), totals.end());
  const auto quantile = [&](double p) {
    return totals[static_cast<std::size_t>(p * static_cast<double>(totals.size()))];
  };
  const TotalBand band = jar.summary({}).metals[0].alike_g;
  CHECK_THAT(band.low, WithinAbs(quantile(0.025), 3.0 * band.low_u));
  CHECK_THAT(band.median, WithinAbs(quantile(0.5), 3.0 * band.median_u));
  CHECK_THAT(band.high, WithinAbs(quantile(0.975), 3.0 * band.high_u));
  CHECK(band.low_u < 0.02 * band.low);
  CHECK(band.high_u < 0.02 * band.high);
  CHECK_THAT(band.mean, WithinRel(mean, 0.005));
}

// Of nearly pure gold there is what the pieces weigh: in one kind or lot of 100 rows, 10 standard uncertainties of one.
TEST_CASE("the rows' errors of mass are errors of every metal, of lots and of piles", "[jar]")
{
  for (const char* lot : {"", "one lot"}) {
    Jar jar;
    for (int i = 0; i < 100; ++i) {
      JarRow row = row_of(5.0, {{0, 1.0, 1.0, 0.0}});
      row.lot = lot;
      row.mass_u_g = 0.05;
      row.pile = "solid-silver";
      row.explanations[0].share[1] = {0.999, 0.0};
      jar.add(row);
    }
    const JarSummary s = jar.summary({});
    const auto width = [](const Band& band) { return (band.high - band.low) / 3.92; };
    CHECK_THAT(width(s.metals[0].alike_g), WithinRel(0.5, 0.05));
    CHECK_THAT(width(s.metals[1].alike_g), WithinRel(0.5, 0.05));
    CHECK_THAT(width(s.metals[1].independent_g), WithinRel(0.5, 0.05));
    CHECK_THAT(width(s.piles.at(0).silver_g), WithinRel(0.5, 0.05));
    CHECK(s.metals[0].alike_g.high > 500.5);
    if (!s.lots.empty()) {
      CHECK_THAT(width(s.lots.at(0).silver_g), WithinRel(0.5, 0.05));
    }
  }
}

// Two rows of 1 g of one kind, of which only the first lists the second material, at 1/2: 1/4 for the kind, and if it
// is that material both rows are, with 0.6 g of silver each.
TEST_CASE("rows of a kind that do not list a material hold as much of its silver as those that do", "[jar]")
{
  Jar jar;
  jar.add(row_of(1.0, {{0, 0.5, 0.0, 0.0}, {1, 0.5, 0.6, 0.0}}));
  jar.add(row_of(1.0, {{0, 1.0, 0.0, 0.0}}));
  const JarSummary s = jar.summary({});
  REQUIRE(s.kinds == 1);
  CHECK_THAT(s.metals[0].alike_g.low, WithinAbs(0.0, 1e-9));
  CHECK_THAT(s.metals[0].alike_g.high, WithinAbs(1.2, 1e-9));
}

// 10 g and 90 g of one material, silver wholly or not at all: each pile holds all that lies on it or nothing. The share
// by expected silver, which the rows' own odds had shifted to the first, gave it up to 47 g.
TEST_CASE("no pile holds more of a lot's silver than its pieces weigh", "[jar]")
{
  Jar jar;
  JarRow light = row_of(10.0, {{0, 0.8, 1.0, 0.0}, {1, 0.2, 0.0, 0.0}}, "solid-silver");
  JarRow heavy = row_of(90.0, {{0, 0.1, 1.0, 0.0}, {1, 0.9, 0.0, 0.0}});
  light.lot = heavy.lot = "X";
  jar.add(light);
  jar.add(heavy);
  const JarSummary s = jar.summary({});
  REQUIRE(s.piles.size() == 2);
  for (const PileTotal& pile : s.piles) {
    CHECK_THAT(pile.silver_g.low, WithinAbs(0.0, 1e-9));
    CHECK_THAT(pile.silver_g.high, WithinRel(pile.mass_g, 1e-9));
  }
}

// Rows of one kind with odds of their own: 9 : 1 on one pile, 1 : 99 on the other. The band of each is that of its own
// rows: 0 to 1 g, and nothing at 97.5 %.
TEST_CASE("what lies of a kind on a pile holds what its own rows say", "[jar]")
{
  Jar jar;
  jar.add(row_of(1.0, {{0, 0.9, 1.0, 0.0}, {1, 0.1, 0.0, 0.0}}, "solid-silver"));
  jar.add(row_of(1.1, {{0, 0.01, 1.0, 0.0}, {1, 0.99, 0.0, 0.0}}, "base-metal"));
  const JarSummary s = jar.summary({});
  REQUIRE(s.kinds == 1);
  REQUIRE(s.piles.size() == 2);
  CHECK(s.piles[0].pile == "base-metal");
  CHECK_THAT(s.piles[0].silver_g.high, WithinAbs(0.0, 1e-9));
  CHECK(s.piles[1].pile == "solid-silver");
  CHECK_THAT(s.piles[1].silver_g.low, WithinAbs(0.0, 1e-9));
  CHECK_THAT(s.piles[1].silver_g.median, WithinRel(1.0, 1e-9));
  CHECK_THAT(s.piles[1].silver_g.high, WithinRel(1.0, 1e-9));
}

// Worth pieces / (0.5 + effort / 2): an acid of effort 6 for 6 pieces 1.7, a magnet of effort 1 for 2 pieces 2. A file
// of effort 3 for 4 pieces equals the magnet, which is easier.
TEST_CASE("a jar proposes the test that helps most pieces for its effort", "[jar]")
{
  Jar jar;
  const auto add = [&](const char* next, int effort, long count) {
    JarRow row = row_of(1.0, {{0, 1.0, 0.5, 0.0}});
    row.next = next;
    row.next_effort = effort;
    row.count = count;
    jar.add(row);
  };
  add("acid", 6, 6);
  add("magnet", 1, 2);
  CHECK(jar.summary({}).next == "magnet");
  CHECK(jar.summary({}).next_pieces == 2);
  add("file", 3, 4);
  CHECK(jar.summary({}).next == "magnet");
  add("acid", 6, 3);
  CHECK(jar.summary({}).next == "acid");
  CHECK(jar.summary({}).next_pieces == 9);
  CHECK(effort_of(built_in_tables(), "magnet") == 1);
  CHECK(effort_of(built_in_tables(), "skin-reagent") == 6);
  CHECK(effort_of(built_in_tables(), "pool") == 2);
}

// A lot is one material in both totals, so that a jar of lots has one range.
TEST_CASE("a summary compares with rows of their own only where rows stand outside the lots", "[jar]")
{
  const auto text_of = [](const Jar& jar) {
    std::string text = jar_summary_text(built_in_tables(), prepared().members(0.1), jar.summary({}));
    std::replace(text.begin(), text.end(), '\n', ' ');
    return text;
  };
  const JarRow loose = row_of(5.0, {{0, 0.6, 0.9, 0.0}, {1, 0.4, 0.0, 0.0}});
  JarRow of_lot = loose;
  of_lot.lot = "X";
  Jar lots;
  lots.add(of_lot);
  lots.add(of_lot);
  CHECK_FALSE(testing::contains(text_of(lots), "a case of its own"));
  CHECK_FALSE(testing::contains(text_of(lots), "column lot"));
  lots.add(loose);
  CHECK_FALSE(testing::contains(text_of(lots), "a case of its own"));
  lots.add(loose);
  CHECK(testing::contains(text_of(lots), "Were every row outside the lots a case of its own, it would be"));
  CHECK(testing::contains(text_of(lots), "column lot"));
  Jar rows;
  rows.add(loose);
  rows.add(loose);
  CHECK(testing::contains(text_of(rows), "Were every row a case of its own, it would be"));
}

// docs/method.md: rows join while their densities lie within two standard uncertainties of the difference.
TEST_CASE("rows are of one kind while their densities overlap", "[jar]")
{
  const auto kinds = [](double density, double other, double u) {
    Jar jar;
    for (const double one : {density, other}) {
      JarRow row = row_of(1.0, {{0, 1.0, 0.5, 0.0}});
      row.density = one;
      row.density_u = u;
      jar.add(row);
    }
    return jar.summary({}).kinds;
  };
  CHECK(kinds(9.0, 9.8, 0.05) == 2);
  CHECK(kinds(9.0, 9.8, 0.25) == 2);  // 2 x 0.354
  CHECK(kinds(9.0, 9.8, 0.30) == 1);  // 2 x 0.424
}

// 4 g, half of it silver at 1 a gram and a quarter gold at 60: 4 x (0.5 + 0.25 x 60) = 62, of which half is paid.
TEST_CASE("each metal fetches its own price", "[jar]")
{
  Jar jar;
  JarRow row = row_of(4.0, {{0, 1.0, 0.5, 0.0}});
  row.explanations[0].share[1] = {0.25, 0.0};
  jar.add(row);
  JarOptions options;
  options.prices.per_g["Ag"] = 1.0;
  options.prices.per_g["Au"] = 60.0;
  options.prices.pays = 0.5;
  const JarSummary s = jar.summary(options);
  CHECK_THAT(s.metal_price, WithinRel(62.0, 1e-9));
  REQUIRE(s.worth.has_value());
  CHECK_THAT(s.worth->median, WithinRel(31.0, 1e-9));
}

// Volumes and masses add: 8.96 and 19.25 g/cm3 (copper, tungsten; CRC Handbook) reach 10.49, silver's.
TEST_CASE("copper with tungsten must not become silver", "[jar]")
{
  const Tables& tables = built_in_tables();
  const MixedHeap silver(tables, find_constituent(tables, "Ag"));
  const auto as_silver = silver.between(10.4, 10.5);
  CHECK_THAT(as_silver.first, WithinAbs(0.0, 1e-9));
  CHECK(as_silver.second > 0.99);
  // Nothing in the tables is heavier than platinum and iridium alloys: no mixture.
  CHECK(silver.between(22.9, 23.0) == std::pair(0.0, 1.0));
  // Brute force: no mixture of two or three materials at that density leaves the bounds.
  std::mt19937_64 random(3);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  const double zero[max_variables] = {};
  int tried = 0;
  while (tried < 3000) {
    double volume = 0.0;
    double fraction = 0.0;
    double weights[3] = {uniform(random), uniform(random), uniform(random)};
    const double total = weights[0] + weights[1] + weights[2];
    for (const double w : weights) {
      const Hypothesis h = solid_hypothesis(tables, static_cast<int>(random() % tables.materials.size()));
      const Outcome<double> o = h.evaluate(zero);
      volume += w / total / o.density;
      fraction += w / total * fraction_of(h, o, find_constituent(tables, "Ag"));
    }
    const auto [least, most] = silver.between(1.0 / volume - 1e-9, 1.0 / volume + 1e-9);
    REQUIRE(least <= fraction + 1e-6);
    REQUIRE(most >= fraction - 1e-6);
    ++tried;
  }
}

TEST_CASE("a jar counts rows, pieces, piles, cautions, mixed heaps and what is missing", "[jar]")
{
  const Tables& tables = built_in_tables();
  Jar jar;
  JarRow row = row_of(4.0, {{0, 1.0, 0.5, 0.0}}, "cadmium-suspect");
  row.count = 8;
  row.cautions = 0b101;
  row.of_place = 1U << find_caution(tables, "asbestos") | 1U << find_caution(tables, "chromium-vi");
  jar.add(row);
  row = row_of(1.0, {{0, 0.5, 0.9, 0.0}, {1, 0.5, 0.0, 0.0}});
  row.next = "edge";
  jar.add(row);
  row.next = "magnet";
  row.count = 3;
  row.cautions = 0b001;
  jar.add(row);
  JarRow mixed = row_of(10.0, {});
  mixed.bounds.emplace();
  (*mixed.bounds)[0] = {0.0, 0.9};
  jar.add(mixed);
  jar.add(row_of(2.0, {}));
  jar.add_unusable();
  JarOptions options;
  options.prices.per_g["Ag"] = 2.0;
  options.prices.pays = 0.5;
  options.prices.hours = 2.0;
  const JarSummary s = jar.summary(options);
  CHECK(s.rows == 6);
  CHECK(s.unusable == 1);
  CHECK(s.unfitting == 1);
  CHECK(s.mixed_rows == 1);
  CHECK(s.pieces == 13);
  CHECK(s.undecided == 4);
  CHECK(s.next == "magnet");
  CHECK(s.next_pieces == 3);
  CHECK(s.cautions.at(0) == std::map<std::string, long>{{"cadmium-suspect", 8}, {"undecided", 3}});
  CHECK(s.cautions.at(2) == std::map<std::string, long>{{"cadmium-suspect", 8}});
  CHECK(s.piles[0].pile == "cadmium-suspect");
  CHECK(s.piles[0].pieces == 8);
  CHECK_THAT(s.piles[0].silver_g.median, WithinRel(2.0, 0.05));
  CHECK_THAT(s.mixed_bounds_g[0].second, WithinRel(9.0, 1e-12));
  CHECK_THAT(s.worth->median, WithinRel(silver_median(s), 1e-9));
  CHECK_THAT(s.metal_price, WithinRel(2.0 * silver_median(s), 1e-9));

  const std::string text = jar_summary_text(tables, prepared().members(0.1), s);
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    CHECK(line.size() <= 80);
  }
  CHECK(testing::contains(text, "(11 pieces: 8 on cadmium-suspect, 3 on undecided)"));
  const auto json = nlohmann::json::parse(jar_summary_json(tables, prepared().members(0.1), s));
  CHECK(json["mixed"]["precious_g"]["Ag"]["high"] == 9.0);
  CHECK(json["undecided"]["next"] == "magnet");
  REQUIRE(json["cautions"].size() == 4);
  const auto of_place = std::find_if(json["cautions"].begin(), json["cautions"].end(),
                                     [](const auto& caution) { return caution["key"] == "asbestos"; });
  CHECK((*of_place)["pieces"].is_null());
  CHECK((*of_place)["urgency"] == "note");
  CHECK(testing::contains(text, "(a test drop was used)"));
  CHECK(testing::contains(text, "13 pieces in 4 rows of 6"));  // one not usable, one mixed
  CHECK_THAT(json["worth_per_hour"]["median"].get<double>(), WithinRel(silver_median(s) / 2.0, 1e-6));
}

// Such ware cannot be judged by its weight: nobody is told what to pay for a weighted knife.
TEST_CASE("hollow and filled ware is named in a jar, and no metal of it is counted", "[jar]")
{
  Jar jar;
  JarRow ware = row_of(60.0, {{0, 1.0, 0.5, 0.1}});
  ware.hollow = true;
  ware.cautions = 0b1;
  jar.add(ware);
  JarOptions options;
  options.prices.per_g["Ag"] = 2.0;
  const JarSummary alone = jar.summary(options);
  CHECK(alone.hollow == 1);
  CHECK(alone.piles.empty());
  CHECK(silver_median(alone) == 0.0);
  std::string text = jar_summary_text(built_in_tables(), prepared().members(0.1), alone);
  std::replace(text.begin(), text.end(), '\n', ' ');
  CHECK(testing::contains(text, "Of 1 piece that is hollow or filled (60 g) no metal is counted"));
  CHECK_FALSE(testing::contains(text, "holds"));
  CHECK_FALSE(testing::contains(text, "fetch"));
  JarRow other = row_of(4.0, {{0, 1.0, 0.5, 0.0}});
  other.cautions = 0b1;
  jar.add(other);
  const JarSummary both = jar.summary(options);
  CHECK_THAT(silver_median(both), WithinRel(2.0, 0.05));
  CHECK(both.pieces == 2);
  // Its caution counts, but it lies on no pile.
  CHECK(both.cautions.at(0) == std::map<std::string, long>{{"", 1}, {"undecided", 1}});
}

// Metals that no total holds can only add: a verdict on the whole jar from a hundredth of it is none.
TEST_CASE("what a jar was worth buying for is told only where little of it is left out", "[jar]")
{
  JarOptions options;
  options.prices.per_g["Ag"] = 1.0;
  const auto told = [&](const std::vector<JarRow>& more, long unusable = 0) {
    Jar jar;
    jar.add(row_of(10.0, {{0, 1.0, 0.9, 0.0}}));
    for (const JarRow& row : more) {
      jar.add(row);
    }
    for (long i = 0; i < unusable; ++i) {
      jar.add_unusable();
    }
    const JarSummary s = jar.summary(options);
    std::string text = jar_summary_text(built_in_tables(), prepared().members(0.1), s);
    std::replace(text.begin(), text.end(), '\n', ' ');
    const auto json = nlohmann::json::parse(jar_summary_json(built_in_tables(), prepared().members(0.1), s));
    CHECK(json["bargain"].is_null() != testing::contains(text, "as likely a gain as a loss if its price"));
    CHECK(json["bargain"].is_null() == testing::contains(text, "was worth buying for cannot be said"));
    return std::pair(text, json);
  };
  const auto whole = told({});
  CHECK(whole.second["bargain"]["even_at"] == 9.0);
  CHECK(whole.second["left_out"]["pieces"] == 0);
  CHECK_FALSE(testing::contains(whole.first, "alone"));
  JarRow tray = row_of(1000.0, {});
  tray.count = 400;
  tray.bounds.emplace();
  const auto mixed = told({tray});
  CHECK(mixed.second["bargain"].is_null());
  CHECK(mixed.second["left_out"]["pieces"] == 400);
  CHECK(mixed.second["left_out"]["mass_g"] == 1000.0);
  CHECK(testing::contains(mixed.first, "of the counted pieces alone: 400 pieces of 1000 g are not in it."));
  JarRow ware = row_of(60.0, {{0, 1.0, 0.5, 0.1}});
  ware.hollow = true;
  CHECK(told({ware}).second["bargain"].is_null());
  CHECK(told({row_of(5.0, {})}).second["bargain"].is_null());
  CHECK(testing::contains(told({}, 1).first, "alone: 1 row that could not be used is not in it."));
  JarRow guess = row_of(5.0, {{0, 1.0, 0.9, 0.0}});
  guess.explained = false;
  CHECK(testing::contains(told({guess}).first, "What is in it of 1 piece of 5.0 g is a guess."));
  CHECK(told({guess}).second["bargain"].is_null());
  JarRow light = guess;
  light.explained = true;
  light.lot = "X";
  light.density_u = 0.01;
  JarRow heavy = light;
  heavy.density = 12.0;
  CHECK(testing::contains(told({light, heavy}).first, "Lot X, of unlike pieces, is in it as one material."));
  // 0.2 g beside 10 g: told of, but no reason to say nothing.
  ware.mass_g = 0.2;
  const auto little = told({ware});
  CHECK(little.second["bargain"]["even_at"] == 9.0);
  CHECK(testing::contains(little.first, "alone: 1 piece of 0.20 g is not in it."));
}

// 1,063.07 g at most, and 34.179 troy ounces: rounded to the nearest both would be less than that.
TEST_CASE("grams and ounces of a total have as many digits, rounded outwards", "[jar]")
{
  TotalBand band{{1000.0, 952.9, 1063.07}};
  CHECK(total_range(band) == "952 to 1070");
  CHECK(total_range(band, grams_per_troy_ounce) == "30.6 to 34.2");
  // No digit that other draws would change by more than one.
  band.low_u = 3.0;
  band.high_u = 30.0;
  CHECK(total_range(band) == "950 to 1100");
  CHECK(total_range(band, grams_per_troy_ounce) == "30 to 35");
  band.low_u = 2000.0;
  CHECK(total_range(band) == "900 to 1100");
  CHECK(total_range(TotalBand()) == "0 to 0");
}

TEST_CASE("a median is not called what is most likely, nor stands alone where the mean is far from it", "[jar]")
{
  CHECK(middle_words({{4.0, 0.0, 349.0}, 52.0}, " g") ==
        "as likely more as less than 4.0 g, and 52 g on average over all that it may be");
  CHECK(middle_words({{50.0, 40.0, 60.0}, 52.0}, " g") == "as likely more as less than 50 g");
  CHECK(middle_words({{0.0, 0.0, 5.4}, 0.3}, " g") ==
        "more likely than not none to speak of, and 0.30 g on average over all that it may be");
  CHECK(middle_words({{0.0, 0.0, 0.0}, 0.0}, "") == "more likely than not none to speak of");
  // A third of the upper end apart.
  CHECK(testing::contains(middle_words({{60.0, 0.0, 90.0}, 29.0}, " g"), "29 g on average"));
}

TEST_CASE("an empty jar says so without trouble", "[jar]")
{
  const JarSummary s = Jar().summary({});
  CHECK(s.rows == 0);
  CHECK(s.metals[0].alike_g.high == 0.0);
  CHECK(jar_summary_text(built_in_tables(), prepared().members(0.1), s) == "The jar has no piece to count.\n");
}

TEST_CASE("a jar of mixed heaps alone says so without a gap, and of how many rows", "[jar]")
{
  Jar jar;
  JarRow mixed = row_of(10.0, {});
  mixed.bounds.emplace();
  jar.add(mixed);
  jar.add(mixed);
  const auto text = [&] { return jar_summary_text(built_in_tables(), prepared().members(0.1), jar.summary({})); };
  CHECK(text().starts_with("The jar has no piece to count in 2 rows.\n\nUnlike pieces"));
  CHECK_FALSE(testing::contains(text(), "\n\n\n"));
  jar.add(row_of(4.0, {{0, 1.0, 0.5, 0.0}}));
  CHECK(text().starts_with("The jar has 1 piece in 1 row of 3, 4.0 g.\n\nIt holds"));
  Jar whole;
  whole.add(row_of(4.0, {{0, 1.0, 0.5, 0.0}}));
  CHECK(testing::contains(jar_summary_text(built_in_tables(), prepared().members(0.1), whole.summary({})),
                          "1 piece in 1 row, 4.0 g."));
}

// The row's own silver band, by the histogram, is the reference for the sum of one row.
TEST_CASE("the jar of one piece holds what its row says", "[jar]")
{
  Piece piece;
  piece.weighing = testing::rise_weighing(5.0, 0.49, scale_of(ScaleClass::pocket));
  piece.context.place = "contactor";
  Analysis a = weigh_up(piece.weighing, 0.95);
  const auto& members = prepared().members(coat_volume_cm3(a, piece.weighing));
  const Background background = background_of(prepared(), members, piece.context);
  hold_against(a, members, background, false);
  const std::vector<int> plausible = plausible_members(a, 0.998);
  std::vector<ShareMoments> silver;
  const ShareHistogram histogram = silver_fraction_of(a, plausible, &silver);
  const Band band = histogram.band(0.95);
  Jar jar;
  const PreciousContent content(built_in_tables());
  jar.add(jar_row_of(built_in_tables(), content, piece, a, background, plausible, silver, pile_of(a, {})));
  const JarSummary s = jar.summary({});
  CHECK_THAT(s.metals[0].alike_g.median, WithinAbs(5.0 * band.median, 0.1));
  // The ends lie where hardly any piece is, so that a few draws move them far: what lies below them is compared.
  CHECK_THAT(histogram.place_of(s.metals[0].alike_g.low / 5.0).below, WithinAbs(0.025, 0.01));
  CHECK_THAT(histogram.place_of(s.metals[0].alike_g.high / 5.0).below, WithinAbs(0.975, 0.01));
}
