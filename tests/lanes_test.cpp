#include "lanes.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace bilancetta;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace
{

// Eight neighbours at a time, each told to `check`.
template <typename Check>
void for_many(double from, double to, double step, Check check)
{
  const int eights = static_cast<int>((to - from) / (8.0 * step));
  for (int i = 0; i < eights; ++i) {
    check(Lanes::even(from + 8.0 * step * i, step));
  }
}

}  // namespace

// The C library's functions, in double precision.
TEST_CASE("exp and log of eight numbers are those of the C library")
{
  double worst_exp = 0.0;
  for_many(-86.0, 87.0, 0.00317, [&](const Lanes& x) {
    const Lanes result = exp(x);
    for (int k = 0; k < Lanes::count; ++k) {
      worst_exp = std::max(worst_exp, std::abs(result.value[k] / std::exp(static_cast<double>(x.value[k])) - 1.0));
    }
  });
  CHECK(worst_exp < 2e-7);
  double worst_log = 0.0;
  for_many(-60.0, 60.0, 0.00317, [&](const Lanes& x) {
    const Lanes numbers = exp(x);
    const Lanes result = log(numbers);
    for (int k = 0; k < Lanes::count; ++k) {
      const double exact = std::log(static_cast<double>(numbers.value[k]));
      worst_log = std::max(worst_log, std::abs(result.value[k] - exact) / std::max(std::abs(exact), 1.0));
    }
  });
  CHECK(worst_log < 2e-7);
}

TEST_CASE("exp of eight numbers stays finite and positive")
{
  const Lanes large = exp(Lanes(1000.0));
  const Lanes small = exp(Lanes(-1000.0));
  CHECK(std::isfinite(large.value[0]));
  CHECK_THAT(large.value[0], WithinRel(std::exp(88.0F), 1e-5F));
  CHECK(small.value[7] > 0.0F);
  CHECK_THAT(small.value[7], WithinRel(std::exp(-87.0F), 1e-5F));
}

TEST_CASE("each of eight numbers is reckoned with by itself")
{
  const Lanes a = Lanes::even(-3.5, 1.0);
  const Lanes b = Lanes::even(1.0, 2.0);
  Lanes c = a;
  c += b;
  c *= Lanes(3.0);
  c /= Lanes(2.0);
  for (int k = 0; k < Lanes::count; ++k) {
    const float x = -3.5F + static_cast<float>(k);
    const float y = 1.0F + 2.0F * static_cast<float>(k);
    CHECK_THAT((a + b).value[k], WithinAbs(x + y, 1e-6));
    CHECK_THAT((a - b).value[k], WithinAbs(x - y, 1e-6));
    CHECK_THAT((2.0 * a).value[k], WithinAbs(2.0F * x, 1e-6));
    CHECK_THAT((a / b).value[k], WithinAbs(x / y, 1e-6));
    CHECK_THAT((-a).value[k], WithinAbs(-x, 1e-6));
    CHECK_THAT(abs(a).value[k], WithinAbs(std::abs(x), 1e-6));
    CHECK_THAT(sqrt(b).value[k], WithinAbs(std::sqrt(y), 1e-6));
    CHECK_THAT(c.value[k], WithinAbs(1.5F * (x + y), 1e-5));
  }
}
