#include "line_axes.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <random>

#include "bilancetta/members.hpp"
#include "bilancetta/posterior.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace
{

using Vector = LineAxes::Vector;

Vector axis(const LineAxes& axes, std::size_t which)
{
  Vector place{};
  place[which] = 1.0;
  axes.turn(place);
  return place;
}

double product(const Vector& a, const Vector& b)
{
  double total = 0.0;
  for (std::size_t k = 0; k < a.size(); ++k) {
    total += a[k] * b[k];
  }
  return total;
}

double density_at(const Hypothesis& h, Vector way, double far)
{
  const double length = std::sqrt(product(way, way));
  for (double& value : way) {
    value *= far / length;
  }
  return h.evaluate(way.data()).density;
}

}  // namespace

TEST_CASE("axes of lines are at right angles and of length 1", "[line_axes]")
{
  const Prepared prepared(built_in_tables());
  for (const Member* member : prepared.members(0.1)) {
    const LineAxes axes(member->hypothesis);
    const Vector first = axis(axes, 0);
    const Vector second = axis(axes, 1);
    CHECK_THAT(product(first, first), WithinAbs(1.0, 1e-9));
    CHECK_THAT(product(second, second), WithinAbs(1.0, 1e-9));
    CHECK_THAT(product(first, second), WithinAbs(0.0, 1e-9));
    CHECK_THAT(product(first, axes.way()), WithinAbs(1.0, 1e-9));
  }
}

// Random ways, none of them the axes' own: if one led to much lighter or heavier pieces, these would be drawn too
// thinly.
TEST_CASE("no way leads much farther than those that the lines follow", "[line_axes]")
{
  constexpr double far = 3.5;
  const Prepared prepared(built_in_tables());
  std::mt19937_64 random(17);
  std::normal_distribution<double> normal;
  for (const Member* member : prepared.members(0.1)) {
    const Hypothesis& h = member->hypothesis;
    if (h.variables < 2 || h.kind == Kind::open_mix) {
      continue;
    }
    const LineAxes axes(h);
    const double middle = h.evaluate(Vector{}.data()).density;
    double up = 0.0;
    double down = 0.0;
    // In the plane of both axes.
    for (int step = 0; step < 64; ++step) {
      Vector place{};
      place[0] = std::cos(step * M_PI / 32.0);
      place[1] = std::sin(step * M_PI / 32.0);
      axes.turn(place);
      const double off = density_at(h, place, far) - middle;
      up = std::max(up, off);
      down = std::min(down, off);
    }
    double farthest_up = 0.0;
    double farthest_down = 0.0;
    for (int i = 0; i < 200; ++i) {
      Vector way{};
      std::generate_n(way.begin(), h.variables, [&] { return normal(random); });
      const double off = density_at(h, way, far) - middle;
      farthest_up = std::max(farthest_up, off);
      farthest_down = std::min(farthest_down, off);
    }
    CAPTURE(built_in_tables().materials[h.outer_material].key, static_cast<int>(h.kind), h.variables, middle);
    CHECK(farthest_up <= 1.4 * up + 1e-9);
    CHECK(farthest_down >= 1.4 * down - 1e-9);
  }
}

// A face with many pores makes a piece lighter than copper, which the middle of the recipe does not show. Against plain
// random draws.
TEST_CASE("light tails of porous faces on copper have their mass", "[line_axes]")
{
  const Tables& tables = built_in_tables();
  const Prepared prepared(tables);
  const int face = find_material(tables, "ag-cdo-15-psr");
  const int carrier = find_material(tables, "c11000");
  int compared = 0;
  for (const Member* member : prepared.members(0.1)) {
    const Hypothesis& h = member->hypothesis;
    if (h.kind != Kind::inlay || h.outer_material != face || h.inner_material != carrier) {
      continue;
    }
    ++compared;
    constexpr double limit = 8.8;
    constexpr int draws = 400000;
    std::mt19937_64 random(5);
    std::normal_distribution<double> normal;
    int below = 0;
    for (int i = 0; i < draws; ++i) {
      Vector z{};
      std::generate_n(z.begin(), h.variables, [&] { return normal(random); });
      below += h.evaluate(z.data()).density * std::exp(h.scatter * normal(random)) < limit ? 1 : 0;
    }
    double mass = 0.0;
    for (std::size_t i = 0; i < member->predicted.value.size(); ++i) {
      const double density = density_grid::density_at(member->predicted.first + static_cast<int>(i));
      mass += density < limit ? member->predicted.value[i] * density * density_grid::spacing : 0.0;
    }
    CAPTURE(below, mass * draws);
    REQUIRE(below > 200);
    CHECK_THAT(mass, WithinRel(static_cast<double>(below) / draws, 4.0 / std::sqrt(below)));
  }
  CHECK(compared > 0);
}
