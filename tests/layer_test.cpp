#include "layer.hpp"

#include <algorithm>
#include <cmath>
#include <random>
#include <tuple>

#include "bilancetta/verdict.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;
using Catch::WithinAbs;
using Catch::WithinRel;

namespace
{

double normal(double x, double mean, double sd)
{
  return std::exp(-0.5 * std::pow((x - mean) / sd, 2)) / (sd * std::sqrt(2.0 * M_PI));
}

double logit(double share)
{
  return std::log(share / (1.0 - share));
}

// A reading of a layer as docs/uncertainty.md has it, one in a hundred misread.
double as_documented(double read_mm, double true_mm)
{
  return 0.99 * normal(read_mm, true_mm, std::max(0.2 * true_mm, 0.1)) + 0.01 / std::pow(1.0 + read_mm, 2);
}

// A disc of 10 mm with a face 0.6 mm thick on a body of 2 mm, as a pocket scale sees it.
Piece faced_disc(std::optional<double> layer_mm)
{
  Piece p;
  p.weighing = rise_weighing(1.48, 0.16, scale_of(ScaleClass::pocket));
  p.weighing.face_cm2 = 0.25 * M_PI;
  p.weighing.area_cm2 = M_PI * 1.0 * (0.5 + 0.2);
  p.layer_mm = layer_mm;
  p.context.place = "relay";
  add_answer(built_in_tables(), p.context.answers, "edge", "line");
  add_answer(built_in_tables(), p.context.answers, "sides", "differ");
  return p;
}

}  // namespace

TEST_CASE("a normal quantity learns from a normal reading as the conjugate law says", "[layer]")
{
  // Gelman et al., Bayesian Data Analysis, 2.5: mean (m/s^2 + x/u^2)/(1/s^2 + 1/u^2), precision 1/s^2 + 1/u^2; the
  // reading itself is normal about m with variance s^2 + u^2.
  Spread spread{0.0, 1.0, 1.0, 3};
  const double chance = learn(spread, [](double x) { return normal(1.0, x, 0.5); });
  CHECK_THAT(spread.centre, WithinAbs(0.8, 1e-3));
  CHECK_THAT(spread.below, WithinAbs(std::sqrt(0.2), 1e-3));
  CHECK_THAT(spread.above, WithinAbs(std::sqrt(0.2), 1e-3));
  CHECK(spread.variable == 3);
  CHECK_THAT(chance, WithinRel(normal(1.0, 0.0, std::sqrt(1.25)), 1e-4));
}

TEST_CASE("a quantity without spread, and one that cannot be so, stay as they are", "[layer]")
{
  Spread fixed{2.0, 0.0, 0.0, -1};
  CHECK_THAT(learn(fixed, [](double x) { return normal(1.0, x, 0.5); }), WithinRel(normal(1.0, 2.0, 0.5), 1e-12));
  CHECK(fixed.centre == 2.0);
  Spread spread{0.0, 1.0, 2.0, 0};
  CHECK(learn(spread, [](double) { return 0.0; }) == 0.0);
  CHECK(spread.above == 2.0);
}

TEST_CASE("a reading at the edge is known to a fifth, and never better than a tenth of a millimetre", "[layer]")
{
  CHECK_THAT(chance_of_layer_reading(0.6, 1.0), WithinRel(0.99 * normal(0.6, 1.0, 0.2) + 0.01 / 2.56, 1e-12));
  CHECK_THAT(chance_of_layer_reading(0.1, 0.2), WithinRel(0.99 * normal(0.1, 0.2, 0.1) + 0.01 / 1.21, 1e-12));
}

TEST_CASE("a face read at the edge leaves the shares that simulated discs leave", "[layer]")
{
  // Brute force: shares and areas of the face drawn, the reading held against each.
  const PieceSize size{0.157, {}, 0.25 * M_PI, 0.6};
  const Spread before{logit(0.3), (logit(0.3) - logit(0.06)) / 1.96, (logit(0.75) - logit(0.3)) / 1.96, 0};
  std::mt19937_64 random(21);
  std::normal_distribution<double> z;
  std::vector<std::pair<double, double>> shares;
  double total = 0.0;
  constexpr int draws = 400000;
  for (int i = 0; i < draws; ++i) {
    const double share_z = z(random);
    const double odds = std::exp(before.centre + share_z * (share_z < 0.0 ? before.below : before.above));
    const double share = odds / (1.0 + odds);
    const double area = 0.25 * M_PI * std::exp(z(random) * std::log(1.2) / 1.96);
    const double mm = 10.0 * share * 0.157 / area;
    const double weight = as_documented(0.6, mm);
    shares.emplace_back(share, weight);
    total += weight;
  }
  std::sort(shares.begin(), shares.end());
  const auto point = [&](double part) {
    double sum = 0.0;
    for (const auto& [share, weight] : shares) {
      sum += weight;
      if (sum >= part * total) {
        return share;
      }
    }
    return 1.0;
  };
  Spread after = before;
  const double chance = learn_face(after, 0.6, size, false);
  CHECK_THAT(chance, WithinRel(total / draws, 0.01));
  // The two-piece law keeps three points; between them it is as skewed as it can be.
  for (const auto& [part, steps, near] : {std::tuple{0.025, -1.96, 0.006},
                                          {0.5, 0.0, 0.006},
                                          {0.975, 1.96, 0.006},
                                          {0.1587, -1.0, 0.02},
                                          {0.8413, 1.0, 0.02}}) {
    const double z_of_part = steps;
    const double odds = std::exp(after.at(&z_of_part));
    CHECK_THAT(odds / (1.0 + odds), WithinAbs(point(part), near));
  }
  // By hand: 0.6 mm of 2 mm is 0.3; faced on both sides, 0.3 mm each.
  CHECK_THAT(1.0 / (1.0 + std::exp(-after.centre)), WithinAbs(0.3, 0.02));
  Spread both = before;
  learn_face(both, 0.3, size, true);
  CHECK_THAT(1.0 / (1.0 + std::exp(-both.centre)), WithinAbs(0.3, 0.02));
}

// Brute force: a coarse scale leaves the volume a third open, but not the mass, and so not how thick the whole is.
TEST_CASE("a face read at the edge is held against the mass of the piece, not against its rough volume", "[layer]")
{
  const Tables& tables = built_in_tables();
  const auto row = std::find_if(tables.builds.begin(), tables.builds.end(),
                                [](const BuildRow& b) { return b.key == "silver-on-copper-alloy"; });
  std::mt19937_64 random(22);
  std::normal_distribution<double> z;
  double total = 0.0;
  double sum = 0.0;
  for (int i = 0; i < 400000; ++i) {
    const double share_z = z(random);
    const double odds =
        std::exp(logit(0.3) + share_z * (share_z < 0.0 ? logit(0.3) - logit(0.06) : logit(0.75) - logit(0.3)) / 1.96);
    const double share = odds / (1.0 + odds);
    const double volume = 0.6 / (10.49 * share + 8.91 * (1.0 - share));
    const double area = 0.25 * M_PI * 0.36 * std::exp(z(random) * std::log(1.2) / 1.96);
    const double weight = as_documented(0.6, 10.0 * share * volume / area);
    total += weight;
    sum += weight * std::log(odds);
  }
  for (const double rough_volume : {0.043, 0.065, 0.086}) {
    const PieceSize size{rough_volume, {}, 0.25 * M_PI * 0.36, 0.6, usual_shape_factor, 0.6};
    const Hypothesis h =
        layered_hypothesis(tables, static_cast<int>(row - tables.builds.begin()), find_material(tables, "fine-silver"),
                           find_material(tables, "c11000"), size);
    CHECK_THAT(h.amount.centre, WithinAbs(sum / total, 0.08));
  }
}

TEST_CASE("the less is known of the piece's size, the less a face's thickness tells", "[layer]")
{
  const Spread before{logit(0.3), 1.0, 1.0, 0};
  double last = 0.0;
  for (const PieceSize& size :
       {PieceSize{0.157, {}, 0.25 * M_PI, 0.6}, PieceSize{0.157, 2.2, {}, 0.6}, PieceSize{0.157, {}, {}, 0.6}}) {
    Spread after = before;
    CHECK(learn_face(after, 0.6, size, false) > 0.0);
    CHECK(after.below + after.above > last);
    last = after.below + after.above;
  }
  CHECK(last < before.below + before.above + 0.05);
}

// By hand: a face of 0.6 mm on a third of 2.2 cm2 (between a cube's sixth and a sheet's half) is 0.044 of 0.157 cm3.
TEST_CASE("a face of a piece of known surface is a third of it", "[layer]")
{
  Spread spread{logit(0.3), 1.5, 1.5, 0};
  learn_face(spread, 0.6, {0.157, 2.2, {}, 0.6}, false);
  CHECK_THAT(1.0 / (1.0 + std::exp(-spread.centre)), WithinAbs(0.06 * (2.2 / 3.0) / 0.157, 0.03));
}

// By geometry: the end of a disc of 5 x 1.2 mm is 0.196 cm2 (2.4 of its volume to the power of two thirds), that of a
// sheet of 10 x 10 x 0.5 mm 1 cm2.
TEST_CASE("a face of a piece of unknown surface is about a disc's end, and may be a sheet's side", "[layer]")
{
  const double disc = 0.25 * M_PI * 0.5 * 0.5 * 0.12;
  Spread of_disc{logit(0.3), 1.5, 1.5, 0};
  learn_face(of_disc, 0.4, {disc, {}, {}, 0.4}, false);
  CHECK_THAT(1.0 / (1.0 + std::exp(-of_disc.centre)), WithinAbs(0.4 / 1.2, 0.05));
  const double sheet = 1.0 * 1.0 * 0.05;
  Spread of_sheet{logit(0.3), 1.5, 1.5, 0};
  learn_face(of_sheet, 0.25, {sheet, {}, {}, 0.25}, false);
  CHECK(logit(0.5) < of_sheet.centre + 1.96 * of_sheet.above);
}

TEST_CASE("the thickness of a face narrows the silver of an inlay to what a hand computation gives", "[layer]")
{
  const Tables& tables = built_in_tables();
  const Verdict without = verdict_of(tables, faced_disc({}), {});
  const Verdict with = verdict_of(tables, faced_disc(0.6), {});
  const Band& wide = without.precious_g.at("Ag");
  const Band& narrow = with.precious_g.at("Ag");
  CHECK(narrow.high - narrow.low < 0.65 * (wide.high - wide.low));
  // By hand: 0.06 cm x 0.785 cm2 = 0.0471 cm3, of fine silver 0.494 g; u is a fifth from the reading and a tenth from
  // the rim, 95 % of it 0.28 to 0.71 g. Alloyed faces hold less.
  CHECK(narrow.low < 0.35);
  CHECK(narrow.low > 0.05);
  CHECK_THAT(narrow.high, WithinAbs(0.71, 0.12));
  const auto fine = [](const Verdict& v) {
    return *std::find_if(v.candidates.begin(), v.candidates.end(), [](const Candidate& c) {
      return c.key == "fine-silver" && c.over == "c11000" && c.kind == Kind::inlay;
    });
  };
  const Band face = fine(with).face_mass_g;
  CHECK_THAT(face.median, WithinAbs(0.494, 0.06));
  CHECK_THAT(face.low, WithinAbs(0.494 * (1.0 - 1.96 * 0.224), 0.09));
  CHECK_THAT(face.high, WithinAbs(0.494 * (1.0 + 1.96 * 0.224), 0.09));
}

TEST_CASE("a thickness tells between layers, not whether there is one", "[layer]")
{
  const Tables& tables = built_in_tables();
  const Piece piece = faced_disc(0.6);
  const double volume = 0.157;
  const Prepared with(tables, PieceSize{volume, 2.2, 0.25 * M_PI, 0.6});
  const Prepared without(tables, PieceSize{volume, 2.2, 0.25 * M_PI, {}});
  const auto builds = [&](const Prepared& prepared) {
    const auto& members = prepared.members(volume);
    const Background b = background_of(prepared, members, piece.context);
    std::array<double, 4> sum{};
    for (std::size_t i = 0; i < members.size(); ++i) {
      sum[static_cast<int>(members[i]->hypothesis.build)] += b.prior[i] * b.test_likelihood[i];
    }
    return sum;
  };
  const auto a = builds(with);
  const auto b = builds(without);
  const auto solid = static_cast<int>(Build::solid);
  const auto plated = static_cast<int>(Build::plated);
  const auto inlay = static_cast<int>(Build::inlay);
  CHECK_THAT(a[solid], WithinRel(b[solid], 1e-12));
  CHECK_THAT(a[plated] + a[inlay], WithinRel(b[plated] + b[inlay], 1e-9));
  CHECK(a[plated] < 0.1 * b[plated]);   // coats are a tenth of that at most
  CHECK(a[plated] > 1e-4 * b[plated]);  // but a misread figure must not rule them out
}
