#include "bilancetta/sitting.hpp"

#include <Eigen/Dense>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <set>

#include "bilancetta/density.hpp"
#include "sitting_adjust.hpp"
#include "sitting_world.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;
using Catch::WithinAbs;
using Catch::WithinRel;

namespace
{

constexpr int liquid = static_cast<int>(SharedError::liquid_density);
constexpr int zero = static_cast<int>(SharedError::zero);
constexpr int drift = static_cast<int>(SharedError::drift);
constexpr int gain = static_cast<int>(SharedError::gain);

SittingResult adjusted(const std::vector<Piece>& pieces, const SittingPriors& priors = {}, int threads = 1)
{
  SittingBuilder builder(priors);
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    builder.add(static_cast<long>(i) + 1, pieces[i]);
  }
  SittingResult result = builder.adjust(threads);
  CHECK(result.converged);
  return result;
}

World world_of(ScaleClass scale, Way way)
{
  World w;
  w.scale = scale_of(scale);
  w.way = way;
  return w;
}

// Unknown pieces with known ones after every few of them; with `twice` the known ones are two pieces in turn.
std::vector<Body> mixed_bodies(int unknown, int known, double mass_g, bool twice)
{
  constexpr double densities[] = {2.7, 8.9, 10.3, 15.0, 19.3};
  std::vector<Body> all;
  for (int i = 0; i < unknown + known; ++i) {
    const int before = i * known / (unknown + known);
    Body b{mass_g * (0.8 + 0.013 * ((i * 37) % 41)), densities[i % 5]};
    if (known > 0 && (i + 1) * known / (unknown + known) > before) {
      b = {mass_g * (before % 2 == 0 ? 1.3 : 1.1), before % 2 == 0 ? 8.41 : 10.49, 0.005};
      b.name = !twice ? "" : before % 2 == 0 ? "brass" : "silver";
    }
    all.push_back(b);
  }
  return all;
}

double plain_of(const SittingResult& result, const Piece& piece, long row)
{
  const Weighing w = corrected(result, piece.weighing, row);
  return summary_of(density_curve_of(w), w).plain;
}

// Everything at once in dense matrices: all pieces, also those weighed once, derivatives by differences, priors under
// Cauchy loss by reweighting. Unknowns: four shared errors in prior units, then ln m and ln V of each piece.
struct Dense {
  Eigen::VectorXd x;
  Eigen::MatrixXd covariance;
};

Dense dense_adjustment(const std::vector<ObservedPiece>& pieces, const SittingResult& result)
{
  const auto unknowns = static_cast<Eigen::Index>(shared_error_count + 2 * pieces.size());
  Eigen::Index count = 0;
  for (const ObservedPiece& p : pieces) {
    count += static_cast<Eigen::Index>(p.observations.size());
  }
  const auto residuals = [&](const Eigen::VectorXd& x) {
    Eigen::VectorXd r(count);
    double shared[shared_error_count];
    for (int i = 0; i < shared_error_count; ++i) {
      shared[i] = x[i] * result.shared[i].prior_u;
    }
    Eigen::Index at = 0;
    for (std::size_t p = 0; p < pieces.size(); ++p) {
      const auto first = static_cast<Eigen::Index>(shared_error_count + 2 * p);
      for (const Observation& o : pieces[p].observations) {
        r[at++] = (o.expected(shared, std::exp(x[first]), std::exp(x[first + 1])) - o.value) / o.u;
      }
    }
    return r;
  };
  Dense d{Eigen::VectorXd::Zero(unknowns), {}};
  for (std::size_t p = 0; p < pieces.size(); ++p) {
    d.x[static_cast<Eigen::Index>(shared_error_count + 2 * p)] = std::log(pieces[p].mass_g);
    d.x[static_cast<Eigen::Index>(shared_error_count + 2 * p + 1)] = std::log(pieces[p].volume_cm3);
  }
  constexpr double c2 = 2.385 * 2.385;
  for (int round = 0; round < 60; ++round) {
    const Eigen::VectorXd r = residuals(d.x);
    Eigen::MatrixXd slope(count, unknowns);
    for (Eigen::Index k = 0; k < unknowns; ++k) {
      const double h = k < shared_error_count ? 1e-3 : 1e-6;
      Eigen::VectorXd up = d.x;
      Eigen::VectorXd down = d.x;
      up[k] += h;
      down[k] -= h;
      slope.col(k) = (residuals(up) - residuals(down)) / (2.0 * h);
    }
    Eigen::MatrixXd normal = slope.transpose() * slope;
    Eigen::VectorXd right = -slope.transpose() * r;
    Eigen::MatrixXd curvature = normal;
    for (int i = 0; i < shared_error_count; ++i) {
      const double t = d.x[i] * d.x[i] / c2;
      normal(i, i) += 1.0 / (1.0 + t);
      right[i] -= d.x[i] / (1.0 + t);
      curvature(i, i) += (1.0 - t) / ((1.0 + t) * (1.0 + t));
    }
    d.x += normal.fullPivLu().solve(right);
    d.covariance = curvature.fullPivLu().inverse();
  }
  return d;
}

// The observations of rows as a person would write them down for jeweller's scale and sealed pieces in a rise.
ObservedPiece observed(const Piece& p, long row, const SittingResult& result)
{
  constexpr double k = 1.0 - 0.0012 / 8.0;
  const Scale& s = p.weighing.scale;
  const double water = liquid_density_of(p.weighing.surroundings).g_cm3;
  const double air = air_density_g_cm3(p.weighing.surroundings.air);
  const double dry = p.weighing.readings.dry_g.front();
  const double rise = p.weighing.readings.rise_g.front() + 0.0001 - p.weighing.readings.rise_g.front() * 1e-2 / 4900.0;
  const double time = static_cast<double>(row - 1) / static_cast<double>(result.last_row - 1) - 0.5;
  const double noise = s.readability_g * s.readability_g / 12.0 + s.repeatability_g * s.repeatability_g;
  const double box = (s.linearity_g * s.linearity_g + 1e-4 * 1e-4) / 3.0;
  const double air_u = rise * (dry - rise) / dry * air * 0.05 / std::sqrt(3.0) / (water - air);
  const double expansion = rise * 20e-6 * 3.0;
  const double u = std::sqrt(noise + box * (0.6 - 0.4 * time * time) + 0.0005 * 0.0005 / 3.0 + air_u * air_u +
                             expansion * expansion);
  ObservedPiece piece;
  const auto put = [&](Observation::Law law, double value, double value_u) {
    piece.observations.push_back({law, SittingReading::dry, row, value, value_u, time, water, air});
  };
  put(Observation::Law::dry, dry, std::sqrt(noise + s.linearity_g * s.linearity_g / 3.0));
  put(Observation::Law::rise, rise, u);
  if (p.reference_density_g_cm3) {
    put(Observation::Law::known_density, *p.reference_density_g_cm3, p.reference_u_g_cm3);
  }
  piece.volume_cm3 = k * rise / (water - air);
  piece.mass_g = k * dry + air * piece.volume_cm3;
  return piece;
}

}  // namespace

TEST_CASE("a straight line is fitted as in JCGM 100, H.3", "[sitting]")
{
  // JCGM 100:2008, table H.6 (from memory; the fit reproduces the printed results): a thermometer's correction b at
  // temperature t, b = y1 + y2 (t - 20). Here the offset of a reading that should repeat the dry weight.
  constexpr double table[][2] = {{21.521, -0.171}, {22.012, -0.169}, {22.512, -0.166}, {23.003, -0.159},
                                 {23.507, -0.164}, {23.999, -0.165}, {24.513, -0.156}, {25.002, -0.157},
                                 {25.503, -0.159}, {26.010, -0.161}, {26.511, -0.160}};
  std::vector<ObservedPiece> pieces;
  SittingResult result;
  for (const auto& [t, b] : table) {
    ObservedPiece p{{}, 10.0, 1.0};
    const auto put = [&](Observation::Law law, SittingReading reading, double value, double u, double time) {
      p.observations.push_back({law, reading, 1, value, u, time, 1.0, 0.0});
    };
    put(Observation::Law::dry, SittingReading::dry, 10.0, 1e-7, 0.0);
    put(Observation::Law::known_density, SittingReading::known_density, 10.0, 1e-3, 0.0);
    put(Observation::Law::resting, SittingReading::resting, 10.0 + b, 0.0035, t - 20.0);
    pieces.push_back(p);
  }
  result.shared[zero].prior_u = result.shared[drift].prior_u = 100.0;
  result.shared[liquid].prior_u = 1e-3;
  result.shared[gain].prior_u = 1e-9;
  adjust_together(pieces, result);
  CHECK_THAT(result.shared[zero].value, WithinAbs(-0.1712, 0.00005));
  CHECK_THAT(result.shared[zero].standard_uncertainty, WithinAbs(0.0029, 0.00005));
  CHECK_THAT(result.shared[drift].value, WithinAbs(0.00218, 0.000005));
  CHECK_THAT(result.shared[drift].standard_uncertainty, WithinAbs(0.00067, 0.000005));
  const double correlation = result.covariance(zero, drift) /
                             (result.shared[zero].standard_uncertainty * result.shared[drift].standard_uncertainty);
  CHECK_THAT(correlation, WithinAbs(-0.930, 0.0005));
}

TEST_CASE("the adjustment is that of one dense least-squares problem over all pieces", "[sitting]")
{
  std::mt19937_64 random(3);
  World world = world_of(ScaleClass::jeweller, Way::rise);
  world.wetting = Wetting::sealed;
  const Sitting s = simulated_sitting(world, mixed_bodies(9, 4, 5.0, false), random);
  const SittingResult result = adjusted(s.pieces);
  REQUIRE(result.informative_rows == 4);
  REQUIRE(std::none_of(result.readings.begin(), result.readings.end(), [](const auto& c) { return c.flagged; }));
  std::vector<ObservedPiece> all;
  for (std::size_t i = 0; i < s.pieces.size(); ++i) {
    all.push_back(observed(s.pieces[i], static_cast<long>(i) + 1, result));
  }
  const Dense dense = dense_adjustment(all, result);
  for (int i = 0; i < shared_error_count; ++i) {
    const double u = result.shared[i].prior_u;
    INFO(name_of(static_cast<SharedError>(i)));
    CHECK_THAT(result.shared[i].value / u, WithinAbs(dense.x[i], 1e-5));
    for (int j = 0; j < shared_error_count; ++j) {
      CHECK_THAT(result.covariance(i, j) / (u * result.shared[j].prior_u), WithinAbs(dense.covariance(i, j), 1e-5));
    }
  }
}

TEST_CASE("pieces that are all weighed twice are adjusted as in one dense problem", "[sitting]")
{
  std::mt19937_64 random(14);
  World world = world_of(ScaleClass::jeweller, Way::rise);
  world.wetting = Wetting::sealed;
  constexpr std::size_t bodies = 30;
  std::vector<Body> twice;
  for (std::size_t i = 0; i < 2 * bodies; ++i) {
    const std::size_t body = i % bodies;
    twice.push_back({2.0 + 0.3 * static_cast<double>(body), body % 2 == 0 ? 8.4 : 10.4, 0.0, false, false,
                     "piece " + std::to_string(body)});
  }
  const Sitting s = simulated_sitting(world, twice, random);
  const SittingResult result = adjusted(s.pieces);
  REQUIRE(result.informative_rows == 2 * bodies);
  REQUIRE(std::none_of(result.readings.begin(), result.readings.end(), [](const auto& c) { return c.flagged; }));
  std::vector<ObservedPiece> all;
  for (std::size_t i = 0; i < 2 * bodies; ++i) {
    const ObservedPiece p = observed(s.pieces[i], static_cast<long>(i) + 1, result);
    if (i < bodies) {
      all.push_back(p);
    } else {
      auto& of_piece = all[i - bodies].observations;
      of_piece.insert(of_piece.end(), p.observations.begin(), p.observations.end());
    }
  }
  const Dense dense = dense_adjustment(all, result);
  for (int i = 0; i < shared_error_count; ++i) {
    const double u = result.shared[i].prior_u;
    INFO(name_of(static_cast<SharedError>(i)));
    CHECK_THAT(result.shared[i].value / u, WithinAbs(dense.x[i], 1e-5));
    for (int j = 0; j < shared_error_count; ++j) {
      CHECK_THAT(result.covariance(i, j) / (u * result.shared[j].prior_u), WithinAbs(dense.covariance(i, j), 1e-5));
    }
  }
}

TEST_CASE("a slip among many pieces weighed twice is found by any number of threads, and nothing else moves",
          "[sitting]")
{
  std::mt19937_64 random(15);
  std::vector<Body> twice;
  constexpr std::size_t bodies = 2000;
  for (std::size_t i = 0; i < 2 * bodies; ++i) {
    twice.push_back(
        {2.0 + 0.001 * static_cast<double>(i % bodies), 8.9, 0.0, false, false, std::to_string(i % bodies)});
  }
  Sitting s = simulated_sitting(world_of(ScaleClass::jeweller, Way::submerged), twice, random);
  const SittingResult clean = adjusted(s.pieces);
  constexpr std::size_t hit[] = {17, 1200, 2500, 3999};
  for (const std::size_t row : hit) {
    add_blunder(s.pieces[row], row % 2 == 0, 40.0);
  }
  const SittingResult hurt = adjusted(s.pieces);
  for (const std::size_t row : hit) {
    const auto wanted = row % 2 == 0 ? SittingReading::dry : SittingReading::in_liquid;
    CHECK(std::any_of(hurt.readings.begin(), hurt.readings.end(), [&](const CheckedReading& c) {
      return c.flagged && c.row == static_cast<long>(row) + 1 && c.reading == wanted;
    }));
  }
  for (int i = 0; i < shared_error_count; ++i) {
    const double u = clean.shared[i].standard_uncertainty;
    CHECK_THAT(hurt.shared[i].value, WithinAbs(clean.shared[i].value, 0.5 * u));
    CHECK_THAT(hurt.shared[i].standard_uncertainty, WithinRel(u, 0.05));
  }
  const SittingResult by_many = adjusted(s.pieces, {}, 5);
  const auto same = [](const CheckedReading& a, const CheckedReading& b) {
    return a.row == b.row && a.reading == b.reading && a.flagged == b.flagged && a.w == b.w && a.off == b.off;
  };
  CHECK(by_many.covariance == hurt.covariance);
  CHECK(std::equal(by_many.readings.begin(), by_many.readings.end(), hurt.readings.begin(), hurt.readings.end(), same));
}

TEST_CASE("a piece weighed once teaches nothing of the shared errors", "[sitting]")
{
  std::mt19937_64 random(4);
  const Sitting s =
      simulated_sitting(world_of(ScaleClass::jeweller, Way::submerged), mixed_bodies(30, 3, 5.0, false), random);
  SittingBuilder with;
  SittingBuilder without;
  for (std::size_t i = 0; i < s.pieces.size(); ++i) {
    with.add(static_cast<long>(i) + 1, s.pieces[i]);
    const bool ends = i == 0 || i + 1 == s.pieces.size();  // they say when the sitting began and ended
    if (s.pieces[i].reference_density_g_cm3 || ends) {
      without.add(static_cast<long>(i) + 1, s.pieces[i]);
    }
  }
  const SittingResult a = with.adjust();
  const SittingResult b = without.adjust();
  CHECK(a.rows == 33);
  CHECK(b.rows == 4);
  for (int i = 0; i < shared_error_count; ++i) {
    CHECK_THAT(a.shared[i].value, WithinAbs(b.shared[i].value, 1e-12 * a.shared[i].prior_u));
    for (int j = 0; j < shared_error_count; ++j) {
      CHECK_THAT(a.covariance(i, j), WithinAbs(b.covariance(i, j), 1e-12 * a.shared[i].prior_u * a.shared[j].prior_u));
    }
  }
}

TEST_CASE("a sitting that learns nothing changes nothing", "[sitting]")
{
  std::mt19937_64 random(5);
  for (const Way way : {Way::rise, Way::submerged}) {
    const Sitting s = simulated_sitting(world_of(ScaleClass::jeweller, way), mixed_bodies(5, 0, 5.0, false), random);
    SittingResult result = adjusted(s.pieces);
    CHECK(result.informative_rows == 0);
    CHECK_FALSE(corrected(result, s.pieces[2].weighing, 3).shared.has_value());
    // Even split into a shared and an own part, the uncertainty is what it was, but for the means of bubbles and
    // thread: the shared part of the liquid goes by what was read, the budget by what that leaves.
    result.informative_rows = 1;
    for (long row = 1; row <= 5; ++row) {
      const Weighing& w = s.pieces[row - 1].weighing;
      const Weighing c = corrected(result, w, row);
      REQUIRE(c.shared.has_value());
      CHECK_FALSE(corrected(result, c, row).shared->displaced_shift_g != c.shared->displaced_shift_g);
      double before = 0.0;
      double after = 0.0;
      for (const BudgetLine& line : budget_of(w)) {
        before += line.standard_uncertainty * line.standard_uncertainty;
      }
      for (const BudgetLine& line : budget_of(c)) {
        after += line.standard_uncertainty * line.standard_uncertainty;
      }
      CHECK_THAT(after, WithinRel(before, 1e-3));
    }
  }
}

TEST_CASE("three known pieces make the others' densities at least 1.5 times better where shared errors rule",
          "[sitting]")
{
  World brine = world_of(ScaleClass::laboratory, Way::submerged);
  brine.liquid_stated_u = 0.01;
  World tare = world_of(ScaleClass::jeweller, Way::rise);
  tare.more_zero_sd_g = 0.005;
  for (const auto& [world, priors] : {std::pair{brine, SittingPriors{}}, {tare, SittingPriors{0.005, 0.0, 0.0005}}}) {
    std::mt19937_64 random(6);
    double alone = 0.0;
    double together = 0.0;
    for (int i = 0; i < 60; ++i) {
      const Sitting s = simulated_sitting(world, mixed_bodies(10, 3, 5.0, false), random);
      const SittingResult result = adjusted(s.pieces, priors);
      for (std::size_t p = 0; p < s.pieces.size(); ++p) {
        if (!s.pieces[p].reference_density_g_cm3) {
          const Weighing& w = s.pieces[p].weighing;
          const Weighing c = corrected(result, w, static_cast<long>(p) + 1);
          alone += std::pow(summary_of(density_curve_of(w), w).value / s.density[p] - 1.0, 2);
          together += std::pow(summary_of(density_curve_of(c), c).value / s.density[p] - 1.0, 2);
        }
      }
    }
    CHECK(std::sqrt(alone / together) >= 1.5);
  }
}

TEST_CASE("bands hold the truth as often after the adjustment as they say", "[sitting]")
{
  for (const Way way : {Way::rise, Way::submerged}) {
    std::mt19937_64 random(7);
    int held = 0;
    int pieces = 0;
    for (int i = 0; i < 250; ++i) {
      const Sitting s = simulated_sitting(world_of(ScaleClass::jeweller, way), mixed_bodies(20, 4, 5.0, false), random);
      const Held all = held_of(s, adjusted(s.pieces));
      held += all.held;
      pieces += all.pieces;
    }
    // 94 to 96 %, with two standard deviations of 5,000 pieces.
    const double share = static_cast<double>(held) / pieces;
    INFO(share);
    CHECK(share > 0.940 - 0.006);
    CHECK(share < 0.960 + 0.006);
  }
}

TEST_CASE("one blunder of ten standard deviations is found and hurts nobody else", "[sitting]")
{
  // 1,000 sittings in all.
  constexpr int sittings = 250;
  int found = 0;
  int still = 0;
  for (const auto& [way, dry] :
       {std::pair{Way::rise, false}, {Way::rise, true}, {Way::submerged, false}, {Way::submerged, true}}) {
    std::mt19937_64 random(8);
    for (int i = 0; i < sittings; ++i) {
      const World world = world_of(i % 2 == 0 ? ScaleClass::jeweller : ScaleClass::laboratory, way);
      Sitting s = simulated_sitting(world, mixed_bodies(4, 5, 4.0, true), random);
      const SittingResult clean = adjusted(s.pieces);
      std::vector<std::size_t> known;
      for (std::size_t p = 0; p < s.pieces.size(); ++p) {
        if (s.pieces[p].reference_density_g_cm3) {
          known.push_back(p);
        }
      }
      REQUIRE(known.size() == 5);
      const std::size_t hit = known[random() % known.size()];
      add_blunder(s.pieces[hit], dry, random() % 2 == 0 ? 10.0 : -10.0);
      const SittingResult hurt = adjusted(s.pieces);
      const auto wanted = dry ? SittingReading::dry : SittingReading::in_liquid;
      found += std::any_of(hurt.readings.begin(), hurt.readings.end(), [&](const CheckedReading& c) {
        return c.flagged && c.row == static_cast<long>(hit) + 1 && c.reading == wanted;
      });
      bool moved = false;
      for (std::size_t p = 0; p < s.pieces.size(); ++p) {
        if (!s.pieces[p].reference_density_g_cm3) {
          const long row = static_cast<long>(p) + 1;
          const Weighing before = corrected(clean, s.pieces[p].weighing, row);
          const double u = summary_of(density_curve_of(before), before).standard_uncertainty;
          moved = moved || std::abs(plain_of(hurt, s.pieces[p], row) - plain_of(clean, s.pieces[p], row)) > 0.5 * u;
        }
      }
      still += moved ? 0 : 1;
    }
  }
  CHECK(found >= 4 * sittings * 0.95);
  CHECK(still >= 4 * sittings * 0.99);
}

TEST_CASE("the test values of good readings are standard normal", "[sitting]")
{
  // Baarda's w has mean 0 and variance 1 under the stated errors, whatever the redundancy.
  std::mt19937_64 random(9);
  double sum = 0.0;
  double squares = 0.0;
  int count = 0;
  World world = world_of(ScaleClass::jeweller, Way::submerged);
  world.wetting = Wetting::sealed;
  for (int i = 0; i < 800; ++i) {
    const SittingResult r = adjusted(simulated_sitting(world, mixed_bodies(0, 6, 4.0, true), random).pieces);
    for (const CheckedReading& c : r.readings) {
      if (c.redundancy > 0.05 && !c.flagged) {
        sum += c.w;
        squares += c.w * c.w;
        ++count;
      }
    }
  }
  REQUIRE(count > 5000);
  CHECK_THAT(sum / count, WithinAbs(0.0, 0.05));
  CHECK_THAT(squares / count, WithinAbs(1.0, 0.1));
}

TEST_CASE("known masses give the span, which moves grams and not densities", "[sitting]")
{
  World world = world_of(ScaleClass::jeweller, Way::rise);
  world.gain_sd = 0.002;
  std::mt19937_64 random(10);
  for (int i = 0; i < 20; ++i) {
    std::vector<Body> bodies = mixed_bodies(6, 0, 20.0, false);
    for (const double mass : {20.0, 50.0, 100.0}) {
      bodies.push_back({mass, 8.0, 0.0, true});
    }
    const Sitting s = simulated_sitting(world, bodies, random);
    const SittingPriors priors{0.0, 0.0, 0.002};
    const SittingResult result = adjusted(s.pieces, priors);
    const SharedEstimate& g = result.shared[gain];
    CHECK(g.standard_uncertainty < 0.1 * g.prior_u);
    CHECK(std::abs(g.value - s.gain) < 4.0 * g.standard_uncertainty);
    CHECK(result.shared[liquid].standard_uncertainty > 0.95 * result.shared[liquid].prior_u);
    const double m = mass_of(corrected(result, s.pieces[0].weighing, 2), s.density[0]).g;
    CHECK_THAT(m, WithinAbs(s.mass_g[0], 0.006 + 4.0 * 20.0 * g.standard_uncertainty));
    const SharedSensitivity j = sensitivity_of(result, s.pieces[0].weighing, 1);
    CHECK_THAT(j.density[gain], WithinAbs(0.0, 1e-12));
    CHECK_THAT(j.mass[gain], WithinRel(-m / (1.0 + g.value), 1e-3));
    SittingResult other = result;
    other.shared[gain].value += 0.01;
    CHECK_THAT(plain_of(other, s.pieces[0], 1), WithinAbs(plain_of(result, s.pieces[0], 1), 1e-12));
  }
}

TEST_CASE("sensitivities are the slopes of density, mass and volume", "[sitting]")
{
  std::mt19937_64 random(11);
  for (const Way way : {Way::rise, Way::submerged}) {
    const Sitting s = simulated_sitting(world_of(ScaleClass::jeweller, way), mixed_bodies(6, 3, 5.0, false), random);
    const SittingResult result = adjusted(s.pieces);
    const Weighing& w = s.pieces[0].weighing;
    const SharedSensitivity j = sensitivity_of(result, w, 1);
    const double steps[] = {1e-5, 1e-5, 1e-5, 1e-5};
    for (int i = 0; i < shared_error_count; ++i) {
      const auto moved = [&](double by) {
        // By the law of buoyancy written out: what the bench shows is (1 + g) of it, plus the offset.
        const double air = air_density_g_cm3({});
        const double time = -0.5;
        const auto value = [&](int k) { return result.shared[k].value + (k == i ? by : 0.0); };
        const double offset = value(zero) + time * value(drift);
        const Displacement d = displacement_of(w.readings);
        const double bubbles = 1e-4 * 8.0 * std::pow(d.displaced_g / 0.998, 2.0 / 3.0);
        const double raw = d.displaced_g - d.displaced_g * 1e-2 / 4900.0 + (way == Way::rise ? 1e-4 : 0.0) - bubbles;
        const double displaced = (raw + (way == Way::rise ? -offset : offset)) / (1.0 + value(gain));
        const double difference = liquid_density_of({}).g_cm3 + value(liquid) - air;
        const double volume = (1.0 - 0.0012 / 8.0) * displaced / difference;
        const double mass = (1.0 - 0.0012 / 8.0) * d.dry_g / (1.0 + value(gain)) + air * volume;
        return std::array<double, 3>{mass / volume, mass, volume};
      };
      const auto up = moved(steps[i]);
      const auto down = moved(-steps[i]);
      const auto slope = [&](int what) { return (up[what] - down[what]) / (2.0 * steps[i]); };
      INFO(name_of(static_cast<SharedError>(i)));
      CHECK_THAT(j.density[i], WithinAbs(slope(0), 1e-3 * std::abs(slope(0)) + 1e-6));
      CHECK_THAT(j.mass[i], WithinAbs(slope(1), 1e-3 * std::abs(slope(1)) + 1e-6));
      CHECK_THAT(j.volume[i], WithinAbs(slope(2), 1e-3 * std::abs(slope(2)) + 1e-6));
    }
  }
}

TEST_CASE("a jar's total needs only the sum of the sensitivities", "[sitting]")
{
  std::mt19937_64 random(12);
  const Sitting s =
      simulated_sitting(world_of(ScaleClass::jeweller, Way::rise), mixed_bodies(12, 3, 5.0, false), random);
  const SittingResult result = adjusted(s.pieces);
  SharedVector sum = SharedVector::Zero();
  std::vector<SharedVector> each;
  for (std::size_t i = 0; i < s.pieces.size(); ++i) {
    each.push_back(sensitivity_of(result, s.pieces[i].weighing, static_cast<long>(i) + 1).volume);
    sum += each.back();
  }
  double pairs = 0.0;
  for (const SharedVector& a : each) {
    for (const SharedVector& b : each) {
      pairs += a.dot(result.covariance * b);
    }
  }
  CHECK(pairs > 0.0);
  CHECK_THAT(shared_u(result, sum), WithinRel(std::sqrt(pairs), 1e-9));
}

TEST_CASE("the same piece at the beginning and the end shows a drift, a piece at rest in the cup the zero", "[sitting]")
{
  const auto piece = [](double dry, double rise, const std::string& name) {
    Piece p;
    p.name = name;
    p.weighing = rise_weighing(dry, rise, scale_of(ScaleClass::laboratory));
    p.weighing.surroundings.wetting = Wetting::sealed;
    return p;
  };
  const SittingPriors priors{0.01, 0.01, 0.0005};
  std::vector<Piece> pieces;
  for (int i = 0; i < 21; ++i) {
    const bool coin = i % 5 == 0;
    pieces.push_back(
        piece(coin ? 8.0 : 3.0 + 0.1 * i, (coin ? 0.9 : 0.3) + 0.02 * (i / 20.0 - 0.5), coin ? "coin" : ""));
  }
  const SittingResult drifted = adjusted(pieces, priors);
  CHECK(drifted.informative_rows == 5);
  CHECK_THAT(drifted.shared[drift].value, WithinAbs(0.02, 3.0 * drifted.shared[drift].standard_uncertainty));
  CHECK(drifted.shared[drift].standard_uncertainty < 0.001);
  CHECK(drifted.shared[zero].standard_uncertainty > 0.95 * drifted.shared[zero].prior_u);
  // Half of the 20 mg had not come yet at the first row, and half too much had at the last.
  CHECK_THAT(corrected(drifted, pieces[0].weighing, 1).shared->displaced_shift_g, WithinAbs(0.010, 0.001));
  CHECK_THAT(corrected(drifted, pieces[20].weighing, 21).shared->displaced_shift_g, WithinAbs(-0.010, 0.001));

  pieces = {piece(8.0, 0.9, ""), piece(3.0, 0.3, ""), piece(5.0, 0.5, "")};
  for (Piece& p : pieces) {
    p.weighing.readings.cup_resting_g = p.weighing.readings.dry_g[0] + 0.006;
  }
  const SittingResult rested = adjusted(pieces, priors);
  CHECK(rested.informative_rows == 3);
  CHECK_THAT(rested.shared[zero].value, WithinAbs(0.006, 0.0005));
  CHECK(rested.shared[zero].standard_uncertainty < 0.0005);
  const Weighing c = corrected(rested, pieces[0].weighing, 1);
  CHECK_THAT(c.shared->displaced_shift_g, WithinAbs(-0.006, 0.0008));
}

TEST_CASE("rows that nothing checks, that are no repeats or of another bench are told of", "[sitting]")
{
  std::mt19937_64 random(13);
  Sitting s = simulated_sitting(world_of(ScaleClass::laboratory, Way::rise), mixed_bodies(6, 3, 5.0, false), random);
  for (Piece& p : s.pieces) {
    p.reference_u_g_cm3 = 0.3;  // known too loosely to check a laboratory scale
  }
  s.pieces[0].name = s.pieces[1].name = "button";  // 4.0 and 4.5 g: not one piece
  s.pieces[1].weighing.readings.dry_g = {s.pieces[0].weighing.readings.dry_g[0] * 1.2};
  s.pieces[3].weighing.scale = scale_of(ScaleClass::pocket);
  const SittingResult result = adjusted(s.pieces);
  CHECK(result.uncheckable.size() == 3);
  CHECK(result.unlike.size() == 1);
  CHECK(result.rows_of_other_benches == 1);
  CHECK(result.informative_rows == 3);
  const std::string all = joined(remarks_of(result));
  CHECK(contains(all, "cannot be checked: weigh it again"));
  CHECK(contains(all, "a name of its own"));
  CHECK(contains(all, "another scale"));
  CHECK(contains(all, "weighed once"));
  CHECK_FALSE(corrected(result, s.pieces[3].weighing, 4).shared.has_value());
}

TEST_CASE("a sitting that nothing informs asks for known pieces, and claims no correction", "[sitting]")
{
  std::mt19937_64 random(14);
  const Sitting s =
      simulated_sitting(world_of(ScaleClass::jeweller, Way::rise), mixed_bodies(6, 0, 5.0, false), random);
  const SittingResult result = adjusted(s.pieces);
  CHECK(result.informative_rows == 0);
  const std::string all = joined(remarks_of(result));
  CHECK(contains(all, "weigh pieces of known density"));
  CHECK_FALSE(contains(all, "are corrected"));
}

// What was displaced is the dry weight with the full bottle less the bottle with the piece: a scale that reads 10 mg
// too much there makes it 10 mg too little, 0.53 % of the 1.901 g that 20 g of silver displace.
TEST_CASE("a bottle that reads too much is set right by known pieces", "[sitting]")
{
  const auto in_bottle = [](double mass_g, double density, double known_u) {
    constexpr double full_g = 60.0;
    const auto [dry, displaced] = ideal_readings(mass_g, density, liquid_density_of({}).g_cm3, air_density_g_cm3({}));
    Piece p;
    p.weighing.scale = scale_of(ScaleClass::laboratory);
    p.weighing.surroundings.wetting = Wetting::sealed;
    p.weighing.readings.dry_g = {dry};
    p.weighing.readings.bottle_full_g = full_g;
    p.weighing.readings.bottle_with_piece_g = full_g + dry - displaced + 0.010;
    if (known_u > 0.0) {
      p.reference_density_g_cm3 = density;
      p.reference_u_g_cm3 = known_u;
    }
    return p;
  };
  const std::vector<Piece> pieces = {in_bottle(20.0, 8.96, 0.001), in_bottle(40.0, 8.96, 0.001),
                                     in_bottle(30.0, 7.85, 0.001), in_bottle(60.0, 7.85, 0.001),
                                     in_bottle(20.0, 10.49, 0.0)};
  const SittingResult result = adjusted(pieces, {0.05, 0.0, 0.0005});
  CHECK(result.informative_rows == 4);
  const Weighing& alone = pieces.back().weighing;
  CHECK_THAT(summary_of(density_curve_of(alone), alone).plain, WithinAbs(10.49 * 1.901 / 1.891, 0.001));
  const Weighing c = corrected(result, alone, 5);
  REQUIRE(c.shared.has_value());
  CHECK_THAT(c.shared->displaced_shift_g, WithinAbs(0.010, 0.002));
  CHECK_THAT(plain_of(result, pieces.back(), 5), WithinAbs(10.490, 0.010));
}

TEST_CASE("the bench that most rows tell of is adjusted, and another liquid is another bench", "[sitting]")
{
  const auto rising = [](double rise_g, ScaleClass scale) {
    Piece p;
    p.weighing = rise_weighing(5.0, rise_g, scale_of(scale));
    return p;
  };
  std::vector<Piece> pieces = {rising(0.48, ScaleClass::pocket)};
  for (int i = 0; i < 3; ++i) {
    pieces.push_back(rising(0.557, ScaleClass::jeweller));
    pieces.back().reference_density_g_cm3 = 8.96;
  }
  pieces.push_back(rising(0.376, ScaleClass::jeweller));
  pieces.back().weighing.surroundings.liquid_density_g_cm3 = 0.789;
  const SittingResult result = adjusted(pieces);
  CHECK(result.informative_rows == 3);
  CHECK(result.rows_of_other_benches == 2);
  CHECK_FALSE(corrected(result, pieces[0].weighing, 1).shared.has_value());
  CHECK(corrected(result, pieces[1].weighing, 2).shared.has_value());
  CHECK_FALSE(corrected(result, pieces[4].weighing, 5).shared.has_value());
}

TEST_CASE("a liquid of its own in each row costs hardly more than one liquid for all", "[sitting]")
{
  constexpr int rows = 40000;
  const auto seconds = [](double apart, long of_other_benches) {
    std::vector<Piece> pieces(rows);
    for (int i = 0; i < rows; ++i) {
      pieces[i].name = std::to_string(i);
      pieces[i].weighing = rise_weighing(5.0, 0.48, scale_of(ScaleClass::jeweller));
      pieces[i].weighing.surroundings.liquid_density_g_cm3 = 0.9 + apart * i;
    }
    const auto begun = std::chrono::steady_clock::now();
    const SittingResult result = adjusted(pieces);
    const std::chrono::duration<double> taken = std::chrono::steady_clock::now() - begun;
    CHECK(result.rows_of_other_benches == of_other_benches);
    CHECK(result.bench.is_that_of(pieces[0].weighing));  // of benches of which as many rows tell, the first
    return taken.count();
  };
  const double same = seconds(0.0, 0);
  CHECK(seconds(1e-6, rows - 1) < 10.0 * same + 0.5);
}

TEST_CASE("a piece is the same whatever way it was weighed and whatever it displaced", "[sitting]")
{
  const Scale pocket = scale_of(ScaleClass::pocket);
  const auto named = [](const char* name, const Weighing& weighing) {
    Piece p;
    p.name = name;
    p.weighing = weighing;
    return p;
  };
  const SittingResult result =
      adjusted({named("x", rise_weighing(5.00, 0.48, pocket)), named("y", rise_weighing(0.05, 0.00, pocket)),
                named("x", submerged_weighing(5.00, 4.52, pocket)), named("y", rise_weighing(0.05, 0.01, pocket)),
                named("x", rise_weighing(9.00, 0.90, pocket)), named("", rise_weighing(5.00, 0.48, pocket))});
  REQUIRE(result.repeats.size() == 2);
  CHECK(standing_row_of(result, 3) == 1);
  CHECK(standing_row_of(result, 4) == 2);
  for (const long row : {1L, 2L, 5L, 6L}) {
    CHECK(standing_row_of(result, row) == row);
  }
}

// 50 g of 10.37 g/cm3 displace 4.822 g; the rise of 5.500 g is a slip.
TEST_CASE("a weighing that was thrown out stands for no piece if another fits", "[sitting]")
{
  const Scale jeweller = scale_of(ScaleClass::jeweller);
  const auto weighed = [&](const char* name, double dry_g, double rise_g, double known) {
    Piece p;
    p.name = name;
    p.weighing = rise_weighing(dry_g, rise_g, jeweller);
    if (known > 0.0) {
      p.reference_density_g_cm3 = known;
      p.reference_u_g_cm3 = 0.002;
    }
    return p;
  };
  const Piece a = weighed("a", 20.0, 2.560, 7.80);
  const Piece b = weighed("b", 30.0, 3.655, 8.20);
  const Piece wrong = weighed("coin", 50.0, 5.500, 0.0);
  const Piece right = weighed("coin", 50.0, 4.823, 0.0);
  const Piece again = weighed("coin", 50.0, 4.822, 0.0);
  const auto stands = [](const SittingResult& result) {
    std::vector<long> rows;
    for (long row = 3; row <= result.rows; ++row) {
      rows.push_back(standing_row_of(result, row));
    }
    return rows;
  };
  const SittingResult later = adjusted({a, b, wrong, right, again});
  CHECK(stands(later) == std::vector<long>{4, 4, 4});
  CHECK(contains(remarks_on_row(later, 3, wrong.weighing).at(0),
                 "was left out: weigh it again; line 4 stands for the piece."));
  CHECK(stands(adjusted({a, b, right, wrong, again})) == std::vector<long>{3, 3, 3});
  // Which of two is wrong nobody knows: the first stands, and the summary says so.
  const SittingResult two = adjusted({a, b, wrong, right});
  REQUIRE(two.flagged.size() == 2);
  CHECK(stands(two) == std::vector<long>{3, 3});
  const std::vector<std::string> told = remarks_of(two);
  CHECK(contains(told.at(0), "as no other weighing of it fits better"));
  CHECK_FALSE(contains(told.at(1), "as no other weighing of it fits better"));
  // What is certainly wrong stands behind what may be right.
  const SittingResult three = adjusted({a, b, wrong, right, weighed("coin", 50.0, 4.950, 0.0)});
  REQUIRE(three.flagged.size() == 3);
  CHECK_FALSE(three.flagged[0].one_of_several);
  CHECK(three.flagged[1].one_of_several);
  CHECK(stands(three) == std::vector<long>{4, 4, 4});
  // What says what is known of the piece stands for it, whatever it reads and wherever it is.
  const Piece known = weighed("coin", 50.0, 5.500, 10.37);
  const SittingResult held = adjusted({a, b, right, known, again});
  CHECK(stands(held) == std::vector<long>{4, 4, 4});
  for (const std::string& remark : remarks_of(held)) {
    UNSCOPED_INFO(remark);
    CHECK_FALSE(contains(remark, "until then it stands"));
  }
}

// Water of 4 C hardly changes with temperature: a first row in it must not make the others' water well known.
TEST_CASE("what is known of the liquid beforehand is that of all rows", "[sitting]")
{
  const auto in_water_of = [](double celsius) {
    Piece p;
    p.weighing = rise_weighing(50.0, 4.814, scale_of(ScaleClass::laboratory));
    p.weighing.surroundings.water_c = celsius;
    p.weighing.surroundings.water_c_u = 3.0;
    return p;
  };
  const double warm = liquid_density_of(in_water_of(25.0).weighing.surroundings).temperature_u_g_cm3;
  const SittingResult result = adjusted({in_water_of(4.0), in_water_of(25.0), in_water_of(25.0), in_water_of(25.0)});
  CHECK(result.shared[liquid].prior_u > 0.8 * warm);
  CHECK(result.shared[liquid].prior_u < 1.1 * warm);
}

TEST_CASE("what was found wrong is not said to be beyond a check, and a mass saves no density", "[sitting]")
{
  SittingResult result;
  result.converged = true;
  result.rows = result.informative_rows = 2;
  result.readings = {{2, SittingReading::known_density, true}, {3, SittingReading::known_mass, false}};
  result.uncheckable = {2, 3};
  const auto told = [&] { return joined(remarks_of(result)); };
  CHECK(contains(told(), "What line 3 read cannot be checked"));
  CHECK(contains(told(), "No known piece reads what is known of it"));
  result.readings.push_back({4, SittingReading::known_density, false});
  CHECK_FALSE(contains(told(), "No known piece reads what is known of it"));
  result.uncheckable = {2};
  CHECK_FALSE(contains(told(), "cannot be checked"));
}

TEST_CASE("each row of a sitting is told what is wrong with it, and no other", "[sitting]")
{
  const auto piece = [](const char* name, double dry_g, double rise_g) {
    Piece p;
    p.name = name;
    p.weighing = rise_weighing(dry_g, rise_g, scale_of(ScaleClass::jeweller));
    return p;
  };
  // Second readings of a and b are off by 30 and 20 mg; one c of 19 g and one d of 18 g are other pieces.
  const SittingResult result =
      adjusted({piece("a", 10.0, 0.969), piece("b", 12.0, 1.152), piece("c", 9.0, 0.998), piece("b", 12.0, 1.172),
                piece("a", 10.0, 0.999), piece("c", 19.0, 2.107), piece("c", 9.0, 0.998), piece("d", 8.0, 0.890),
                piece("d", 18.0, 2.002), piece("d", 8.0, 0.890), piece("c", 19.0, 2.107), piece("c", 9.0, 0.998)});
  // Rows of the bench are told besides that its readings err by more than was said.
  const Weighing of_the_bench = piece("a", 10.0, 0.969).weighing;
  const Weighing of_another = rise_weighing(10.0, 0.97, scale_of(ScaleClass::pocket));
  const std::vector<std::string> summary = remarks_of(result);
  for (const long row : {1L, 2L, 4L, 5L}) {
    const std::vector<std::string> told = remarks_on_row(result, row, of_another);
    REQUIRE(told.size() == 1);
    INFO(told[0]);
    CHECK(contains(told[0], "reading in the liquid does not fit the rest (off by about"));
    CHECK(contains(told[0], "times what is to be expected"));
    const std::string words = told[0].substr(told[0].find("the reading"), 60);  // those of the summary
    CHECK(std::any_of(summary.begin(), summary.end(), [&](const std::string& one) { return contains(one, words); }));
  }
  for (const long row : {6L, 9L, 11L}) {
    REQUIRE(remarks_on_row(result, row, of_another).size() == 1);
    CHECK(contains(remarks_on_row(result, row, of_another)[0], "give every piece a name of its own"));
  }
  for (const long row : {0L, 3L, 7L, 8L, 10L, 12L, 13L}) {
    CHECK(remarks_on_row(result, row, of_another).empty());
    REQUIRE(remarks_on_row(result, row, of_the_bench).size() == 1);
    CHECK(contains(remarks_on_row(result, row, of_the_bench)[0], "its band is wider for that"));
  }
}

// No outside source: most are more than half, and far is three times what was allowed for.
TEST_CASE("most pieces that disagree, and errors far beyond what was allowed, are told as such", "[sitting]")
{
  SittingResult result;
  result.rows = result.informative_rows = 3;
  for (long row = 1; row <= 3; ++row) {
    result.readings.push_back({row, SittingReading::in_liquid, row == 1});
  }
  result.shared.fill({0.0, 0.0005, 0.001});
  const auto told = [&](const char* words) {
    const std::vector<std::string> remarks = remarks_of(result);
    return std::any_of(remarks.begin(), remarks.end(), [&](const std::string& one) { return contains(one, words); });
  };
  CHECK_FALSE(told("Most of the known or repeated pieces disagree"));
  result.readings[1].flagged = true;
  CHECK(told("Most of the known or repeated pieces disagree"));
  result.readings.push_back({4, SittingReading::in_liquid, false});  // two of four are not most
  CHECK_FALSE(told("Most of the known or repeated pieces disagree"));

  result.shared[zero].value = 0.00000014;
  result.shared[zero].standard_uncertainty = 0.0001;
  CHECK(told("The zero in the liquid is off by 0 +- 0.0001 g"));
  result.shared[zero] = {-0.0029, 0.0005, 0.001};
  CHECK_FALSE(told("far more than the bench was said to err"));
  result.shared[zero].value = -0.0031;
  CHECK(
      told("The zero in the liquid is off by -0.0031 +- 0.0005 g; 0.001 was allowed for: far more than the bench was "
           "said to err"));
  result.shared[zero].standard_uncertainty = 0.001;  // no better known than before, and yet far off
  CHECK(told("far more than the bench was said to err"));
}

// docs/uncertainty.md: a mass is known to 1e-4. Together with 5e-4 that the span may be off beforehand, and hardly
// anything of the scale's own at 100 g: 1 / sqrt(1 / 1e-4^2 + 1 / 5e-4^2).
TEST_CASE("the span is known no better than the mass that tells it", "[sitting]")
{
  Piece p;
  p.weighing = rise_weighing(100.0, 12.5, scale_of(ScaleClass::laboratory));
  p.weighing.surroundings.wetting = Wetting::sealed;
  p.reference_mass_g = 100.0;
  const SharedEstimate g = adjusted({p}).shared[gain];
  CHECK_THAT(g.standard_uncertainty, WithinRel(0.98e-4, 0.02));
}

TEST_CASE("a sitting of nothing, one row, or no displacement is no trouble", "[sitting]")
{
  const SittingResult empty = adjusted({});
  CHECK(empty.rows == 0);
  CHECK(empty.informative_rows == 0);
  Piece p;
  p.weighing = rise_weighing(0.05, 0.0, scale_of(ScaleClass::pocket));
  p.reference_density_g_cm3 = 10.0;
  const SittingResult nothing = adjusted({p});
  CHECK(nothing.informative_rows == 0);
  p.weighing = rise_weighing(5.0, 0.5, scale_of(ScaleClass::pocket));
  const SittingResult one = adjusted({p});
  CHECK(one.informative_rows == 1);
  CHECK(std::isfinite(one.shared[zero].standard_uncertainty));
  p.reference_mass_g = -1.0;
  CHECK(refusal_of([&] { adjusted({p}); }).field == "reference_mass_g");
}

TEST_CASE("known pieces that are all wrong still come to rest, and are named", "[sitting]")
{
  std::mt19937_64 random(16);
  Sitting s = simulated_sitting(world_of(ScaleClass::jeweller, Way::rise), mixed_bodies(12, 6, 5.0, false), random);
  std::uniform_real_distribution<double> any(1.0, 23.0);
  for (Piece& p : s.pieces) {
    if (p.reference_density_g_cm3) {
      p.reference_density_g_cm3 = any(random);
      p.reference_mass_g = 2.0 * any(random);
    }
  }
  SittingResult result = adjusted(s.pieces);
  std::set<long> named;
  for (const CheckedReading& c : result.readings) {
    CHECK(std::isfinite(c.off));
    if (c.flagged) {
      named.insert(c.row);
    }
  }
  CHECK(named.size() == 6);
  for (const SharedEstimate& e : result.shared) {
    CHECK(std::isfinite(e.value));
    CHECK(e.standard_uncertainty > 0.0);
  }
  result.converged = false;
  CHECK(contains(remarks_of(result).front(), "could not be made to agree"));
}
