#include "sitting_fit.hpp"

#include <random>

#include "sitting_world.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;
using Catch::WithinAbs;
using Catch::WithinRel;

namespace
{

constexpr double own_u_g = 0.001;

CheckedReading reading_of(double w, long row = 1, bool flagged = false)
{
  CheckedReading c;
  c.row = row;
  c.reading = SittingReading::in_liquid;
  c.w = w;
  c.redundancy = 1.0;
  c.flagged = flagged;
  c.off = own_u_g * w;
  return c;
}

// Rows 1, 2, ... of which some do not fit.
std::vector<CheckedReading> rows_with_flags(const std::vector<double>& w)
{
  std::vector<CheckedReading> all;
  all.reserve(w.size());
  for (const double one : w) {
    all.push_back(reading_of(one, static_cast<long>(all.size()) + 1, std::abs(one) > 3.29));
  }
  return all;
}

// A known piece after every second one.
SittingResult stepped_sitting(double step_g, Sitting& sitting)
{
  World world;
  world.scale = scale_of(ScaleClass::jeweller);
  world.zero_step_g = step_g;
  std::vector<Body> bodies;
  for (int i = 0; i < 24; ++i) {
    const bool known = i % 3 == 1;
    bodies.push_back({4.0 + 0.1 * i, known ? 8.41 : 10.3, known ? 0.005 : 0.0});
  }
  std::mt19937_64 random(7);
  sitting = simulated_sitting(world, bodies, random);
  SittingBuilder builder;
  for (std::size_t i = 0; i < sitting.pieces.size(); ++i) {
    builder.add(static_cast<long>(i) + 1, sitting.pieces[i]);
  }
  return builder.adjust();
}

}  // namespace

// Upper 1 % points of chi-square: 6.635 of one degree of freedom, 23.209 of ten, 135.807 of a hundred (NIST/SEMATECH
// e-Handbook of Statistical Methods, 1.3.6.7.4; from memory).
TEST_CASE("uncertainty is dark where chi-square would not exceed the readings' once in a hundred", "[sitting]")
{
  for (const auto& [count, most] : {std::pair{1, 6.635}, std::pair{10, 23.209}, std::pair{100, 135.807}}) {
    const auto dark_at = [&, count = count](double squares) {
      return dark_u_of(std::vector<CheckedReading>(count, reading_of(std::sqrt(squares / count))));
    };
    CHECK(dark_at(0.98 * most) == 0.0);
    CHECK_THAT(std::hypot(dark_at(1.02 * most), own_u_g), WithinRel(own_u_g * std::sqrt(1.02 * most / count), 1e-9));
  }
  CHECK(dark_u_of({}) == 0.0);
}

TEST_CASE("a slip is no dark uncertainty, but many are", "[sitting]")
{
  const double fit = 0.5;
  CHECK(dark_u_of(rows_with_flags({fit, fit, -9.0, fit, fit, fit, fit, fit})) == 0.0);
  CHECK(dark_u_of(rows_with_flags({fit, fit, -9.0, fit, fit, -9.0, fit, fit, fit})) == 0.0);
  CHECK(dark_u_of(rows_with_flags({fit, fit, -9.0, fit, fit, 9.0, fit, fit})) > 4.0 * own_u_g);
}

TEST_CASE("a zero that moved is found where readings are off alike from one row on or up to one", "[sitting]")
{
  const double fit = 0.5;
  const auto later = moved_zero_of(rows_with_flags({fit, fit, -fit, 6.0, fit, 5.0, 7.0, 6.0}));
  REQUIRE(later);
  CHECK(later->row == 4);
  CHECK(later->after);
  CHECK_THAT(later->off_g, WithinAbs(0.006, 1e-12));
  const auto earlier = moved_zero_of(rows_with_flags({-5.0, -5.0, -5.0, fit, fit, fit, fit}));
  REQUIRE(earlier);
  CHECK(earlier->row == 3);
  CHECK_FALSE(earlier->after);
  CHECK_FALSE(moved_zero_of(rows_with_flags({fit, fit, 6.0, -6.0, 6.0, 6.0})));      // not alike
  CHECK_FALSE(moved_zero_of(rows_with_flags({fit, 6.0, fit, fit, fit, 6.0, 6.0})));  // others between
  CHECK_FALSE(moved_zero_of(rows_with_flags({fit, fit, fit, 6.0, 6.0})));            // two may be slips
  CHECK_FALSE(moved_zero_of(rows_with_flags({6.0, 6.0, 6.0})));                      // all are: it was so all along
}

TEST_CASE("a zero that moves midway widens the bands of a sitting, and is told", "[sitting]")
{
  Sitting sitting;
  const SittingResult moved = stepped_sitting(0.008, sitting);
  CHECK(moved.dark_u_g > 0.002);
  const Held all = held_of(sitting, moved);
  CHECK(all.held > 0.8 * all.pieces);  // half of them, if readings were taken to err as little as was said
  CHECK(contains(joined(remarks_of(moved)), "line 14 the readings in the liquid are off by about 0.00"));
  CHECK(contains(joined(remarks_of(moved)), "besides all that the bench was said to err"));
  const SittingResult still = stepped_sitting(0.0, sitting);
  CHECK(still.dark_u_g == 0.0);
  CHECK_FALSE(contains(joined(remarks_of(still)), "the zero seems to have moved"));
  CHECK_FALSE(contains(joined(remarks_of(still)), "besides all"));
}
