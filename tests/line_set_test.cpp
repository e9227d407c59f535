#include "line_set.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <numeric>

using namespace bilancetta;
using Catch::Matchers::WithinAbs;

namespace
{

Hypothesis of(Kind kind, int variables)
{
  Hypothesis h;
  h.kind = kind;
  h.variables = variables;
  return h;
}

// Of the space in which the error is the worst case: 1 + weight times 2 pi^2 B2(x), B2 the second Bernoulli polynomial
// (the criterion P2 of Sloan and Joe, "Lattice Methods for Multiple Integration", 1994; from memory).
double kernel(double x)
{
  return 1.0 + 0.1 * 2.0 * M_PI * M_PI * (x * x - x + 1.0 / 6.0);
}

// What a lattice errs by in the worst case, squared, in its first coordinates and one more made by a generator.
double error_with(int points, int coordinates, int generator)
{
  double sum = 0.0;
  for (int i = 0; i < points; ++i) {
    double product = kernel(std::fmod(static_cast<double>(i) * generator, points) / points);
    for (int k = 0; k < coordinates; ++k) {
      product *= kernel(lattice_coordinate(points, i, k) - 0.5 / points);
    }
    sum += product;
  }
  return sum / points - 1.0;
}

// Of N(0, I), by the draws of a set: mean and variance along the lines and across them.
struct Moments {
  double mass = 0.0;
  std::vector<double> mean, square;
};

Moments moments_of(const LineSet& set)
{
  Moments m{0.0, std::vector<double>(set.ways + 1, 0.0), std::vector<double>(set.ways + 1, 0.0)};
  for (int line = 0; line < set.lines; ++line) {
    for (int node = 0; node < set.nodes; ++node) {
      const double mass = set.weights[line * set.nodes + node];
      m.mass += mass;
      for (int way = 0; way <= set.ways; ++way) {
        const double from = way == 0 ? set.starts[line] + set.step * node : set.across_of(line)[way - 1];
        const double to = way == 0 ? from + set.step : from;
        m.mean[way] += mass * 0.5 * (from + to);
        m.square[way] += mass * (from * from + from * to + to * to) / 3.0;
      }
    }
  }
  for (int way = 0; way <= set.ways; ++way) {
    m.mean[way] /= m.mass;
    m.square[way] /= m.mass;
  }
  return m;
}

// Draws and lines of a set that `filled` tells wrongly.
int told_amiss(const LineSet& set)
{
  int amiss = 0;
  for (int line = 0; line < set.lines; ++line) {
    const auto [first, end] = set.filled[line];
    // The last of their steps ends at a draw of the line.
    amiss += first < line * set.nodes || end > (line + 1) * set.nodes - 1 ? 1 : 0;
    for (int draw = line * set.nodes; draw < (line + 1) * set.nodes; ++draw) {
      const bool filled = first <= draw && draw < end;
      amiss += filled != (set.weights[draw] > 0.0F) ? 1 : 0;
      for (int part = 0; part < LineSet::parts_of_step && !set.parts.empty(); ++part) {
        amiss += filled != (set.parts[LineSet::parts_of_step * draw + part] > 0.0F) ? 1 : 0;
      }
    }
  }
  return amiss;
}

}  // namespace

// Against the construction itself (Sloan and Reztsov 2002): no other generator makes the error of the coordinates so
// far smaller.
TEST_CASE("lattices are built component by component", "[line_set]")
{
  for (const int points : {149, 307, 1499}) {
    for (int coordinates = 1; coordinates < max_variables; ++coordinates) {
      const auto generator = static_cast<int>(std::lround(lattice_coordinate(points, 1, coordinates) * points - 0.5));
      INFO(points << " points, coordinate " << coordinates << ", generator " << generator);
      CHECK(std::gcd(points, generator) == 1);
      const double own = error_with(points, coordinates, generator);
      int better = 0;
      for (int other = 1; other < points; ++other) {
        better += std::gcd(points, other) == 1 && error_with(points, coordinates, other) < own - 1e-9 ? 1 : 0;
      }
      CHECK(better == 0);
    }
  }
}

// Against N(0, 1): mean 0, variance 1, nothing beyond.
TEST_CASE("the draws of a set of lines have the moments of N(0, I)", "[line_set]")
{
  for (const Kind kind : {Kind::solid, Kind::plated, Kind::inlay, Kind::hollow, Kind::open_mix}) {
    for (int variables = kind == Kind::open_mix ? 4 : 1; variables <= (kind == Kind::open_mix ? 4 : 7); ++variables) {
      for (const bool fine : {false, true}) {
        const LineSet& set = line_set_for(of(kind, variables), fine);
        INFO("kind " << static_cast<int>(kind) << ", " << variables << " variables, fine " << fine);
        const Moments m = moments_of(set);
        CHECK_THAT(m.mass / set.lines, WithinAbs(1.0, 0.03));
        for (int way = 0; way < variables; ++way) {
          INFO("way " << way);
          CHECK_THAT(m.mean[way], WithinAbs(0.0, 0.05));
          CHECK_THAT(m.square[way], WithinAbs(1.0, 0.08));
        }
        const double parts = std::accumulate(set.parts.begin(), set.parts.end(), 0.0);
        CHECK_THAT(set.parts.empty() ? 1.0 : parts / m.mass, WithinAbs(1.0, 1e-4));
      }
    }
  }
}

TEST_CASE("the draws of a line that have mass are neighbours, and known", "[line_set]")
{
  for (const Kind kind : {Kind::solid, Kind::plated, Kind::inlay, Kind::hollow, Kind::open_mix}) {
    for (const int variables : {0, 1, 2, 4, 7}) {
      for (const bool fine : {false, true}) {
        const LineSet& set = line_set_for(of(kind, kind == Kind::open_mix ? 4 : variables), fine);
        INFO("kind " << static_cast<int>(kind) << ", " << variables << " variables, fine " << fine);
        REQUIRE(set.filled.size() == static_cast<std::size_t>(set.lines));
        REQUIRE(told_amiss(set) == 0);
      }
    }
  }
}
