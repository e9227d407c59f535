#include "conductivity.hpp"

#include <cmath>

#include "support.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;

namespace
{

const Tables& tables()
{
  return built_in_tables();
}

ConductivityOdds odds_of(const Hypothesis& hypothesis)
{
  return conductivity_odds_of(tables(), test_called(tables(), "conductivity"), hypothesis);
}

Hypothesis solid(const char* key)
{
  return solid_hypothesis(tables(), find_material(tables(), key));
}

}  // namespace

// 100 %IACS is annealed copper by definition (IEC 60028).
TEST_CASE("a meter expects copper near 100 and brass far below", "[conductivity]")
{
  const ConductivityOdds copper = odds_of(solid("c11000"));
  CHECK_THAT(std::exp(copper.middle), WithinAbs(100.0, 5.0));
  CHECK(std::exp(odds_of(solid("c26000")).middle) < 35.0);
  CHECK(copper.at(std::log(100.0)) > 20 * copper.at(std::log(28.0)));
}

TEST_CASE("readings of a metal add up to one, but for odd ones", "[conductivity]")
{
  const ConductivityOdds silver = odds_of(solid("fine-silver"));
  const double lowest = std::log(0.1);
  const double highest = std::log(500.0);
  constexpr int steps = 8000;
  double sum = 0.0;
  for (int i = 0; i < steps; ++i) {
    sum += (highest - lowest) / steps * silver.at(lowest + (highest - lowest) * (i + 0.5) / steps);
  }
  CHECK_THAT(sum, WithinAbs(0.98 + 0.02 * (highest - lowest), 1e-3));
}

TEST_CASE("a probe sees through a coat", "[conductivity]")
{
  int plated_rows = 0;
  for (std::size_t row = 0; row < tables().builds.size(); ++row) {
    if (tables().builds[row].build == Build::plated) {
      ++plated_rows;
      const auto plated = [&](const char* coat, const char* core) {
        return odds_of(layered_hypothesis(tables(), static_cast<int>(row), find_material(tables(), coat),
                                          find_material(tables(), core), {}));
      };
      CHECK(plated("fine-silver", "c26000").middle == odds_of(solid("c26000")).middle);
      CHECK(plated("nickel", "c11000").middle == odds_of(solid("c11000")).middle);
    }
  }
  CHECK(plated_rows > 0);
}

TEST_CASE("of the open mix every reading is as likely", "[conductivity]")
{
  const ConductivityOdds mix = odds_of(open_mix_hypothesis(tables()));
  CHECK(mix.at(std::log(1.0)) == mix.at(std::log(100.0)));
}

TEST_CASE("a number is read to its logarithm", "[conductivity]")
{
  CHECK_THAT(ln_conductivity_from("28.5"), WithinAbs(std::log(28.5), 1e-12));
}

// The ends of a range hold 95 % of a normal distribution: they lie 2 x 1.96 standard deviations apart.
TEST_CASE("a metal's range is 95 % of it, with the meter's error on top", "[conductivity]")
{
  const double meter = test_called(tables(), "conductivity").relative_sd;
  int wide = 0;
  for (int m = 0; m < static_cast<int>(tables().materials.size()); ++m) {
    const Range& range = tables().materials[m].conductivity_iacs;
    if (range.typical > 0.0 && range.low >= 0.1) {
      INFO(tables().materials[m].key);
      const double own = std::log(range.high / range.low) / (2.0 * 1.96);
      CHECK_THAT(odds_of(solid_hypothesis(tables(), m)).sd, Catch::Matchers::WithinRel(std::hypot(meter, own), 0.025));
      wide += own > meter ? 1 : 0;
    }
  }
  CHECK(wide > 5);
}
