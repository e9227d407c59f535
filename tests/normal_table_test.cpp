#include "normal_table.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace bilancetta;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

// Abramowitz and Stegun, Handbook of Mathematical Functions (1964), tables 26.1 and 26.2 (values from memory).
TEST_CASE("the normal distribution by table is that of the handbook")
{
  const NormalTable& table = normal_table();
  CHECK_THAT(table.up_to(0.0), WithinAbs(0.5, 3e-7));
  CHECK_THAT(table.up_to(1.0), WithinAbs(0.8413447461, 3e-7));
  CHECK_THAT(table.up_to(1.96), WithinAbs(0.9750021049, 3e-7));
  CHECK_THAT(table.up_to(-2.0), WithinAbs(0.0227501319, 3e-7));
  CHECK_THAT(table.lower_tail(-5.0), WithinRel(2.866515719e-7, 2e-5));
  CHECK_THAT(table.about(0.0, 1.0), WithinAbs(0.6826894921, 6e-7));
}

// std::erfc of the C library, between the points of the table too.
TEST_CASE("the table keeps the digits of its tails")
{
  const NormalTable& table = normal_table();
  double worst_tail = 0.0;
  double worst = 0.0;
  double worst_about = 0.0;
  for (int i = 0; i < 6200; ++i) {
    const double x = 0.00137 * i;
    const double tail = 0.5 * std::erfc(x * M_SQRT1_2);
    worst_tail = std::max(worst_tail, std::abs(table.lower_tail(-x) / tail - 1.0));
    worst = std::max(worst, std::abs(table.up_to(x) - (1.0 - tail)));
    const double about = 0.5 * (std::erfc((x - 0.7) * M_SQRT1_2) - std::erfc((x + 0.7) * M_SQRT1_2));
    worst_about = std::max(worst_about, std::abs(table.about(-x, 0.7) / about - 1.0));
  }
  CHECK(worst_tail < 4e-5);
  CHECK(worst < 3e-7);
  CHECK(worst_about < 4e-5);
  // Beyond the table there is as good as nothing.
  CHECK(table.lower_tail(-40.0) < 1e-18);
  CHECK(table.up_to(40.0) == 1.0);
}
