#include "bent_steps.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

#include "bilancetta/density_grid.hpp"
#include "bilancetta/members.hpp"
#include "bilancetta/tables.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;

namespace
{

Hypothesis solid(const char* key)
{
  return solid_hypothesis(built_in_tables(), find_material(built_in_tables(), key));
}

BentSteps steps_of(const Hypothesis& hypothesis, int constituent = -1)
{
  const Member member = member_of(built_in_tables(), hypothesis, Member::Serves::verdicts);
  Draws draws(hypothesis);
  return bent_steps_of(draws, member.place, constituent);
}

}  // namespace

TEST_CASE("lines bend where the balance of a recipe runs out, and hardly where it does not", "[bent_steps]")
{
  const auto part_of = [](const char* key) {
    const Hypothesis h = solid(key);
    const auto& weights = line_set_for(h).weights;
    const auto with_mass = std::count_if(weights.begin(), weights.end(), [](float w) { return w > 0.0F; });
    return static_cast<double>(steps_of(h).draws.size()) / static_cast<double>(with_mass);
  };
  // 14 karat has silver and copper that may leave no room for each other; brass has one range of zinc.
  CHECK(part_of("gold-14k-yellow") > 0.01);
  CHECK(part_of("gold-14k-yellow") < 0.3);
  CHECK(part_of("c27000") == 0.0);
}

// No outside source: the hypothesis itself, one draw at a time in double precision.
TEST_CASE("a bent step is known at its quarters", "[bent_steps]")
{
  const Hypothesis h = solid("gold-14k-yellow");
  const int silver = find_constituent(built_in_tables(), "Ag");
  const BentSteps bent = steps_of(h, silver);
  REQUIRE(!bent.draws.empty());
  REQUIRE(bent.places.size() == bent.draws.size());
  REQUIRE(bent.shares.size() == bent.draws.size());
  REQUIRE(std::is_sorted(bent.draws.begin(), bent.draws.end()));
  Draws draws(h);
  for (std::size_t i = 0; i < bent.draws.size(); i += 7) {
    for (int quarter = 0; quarter < 4; ++quarter) {
      const Outcome<double> there = draws.outcome(bent.draws[i], 0.25 * (quarter + 1));
      REQUIRE_THAT(bent.places[i][quarter], WithinAbs(density_grid::position_of(there.density), 0.01));
      REQUIRE_THAT(bent.shares[i][quarter], WithinAbs(fraction_of(h, there, silver), 3e-6));
    }
  }
}

TEST_CASE("bent steps are found as draws pass by", "[bent_steps]")
{
  const BentSteps bent{{3, 4, 9}, {}, {}};
  BentSteps::Reader reader(bent);
  CHECK(reader.at(0) == -1);
  CHECK(reader.at(3) == 0);
  CHECK(reader.at(4) == 1);
  CHECK(reader.at(8) == -1);
  CHECK(reader.at(9) == 2);
  CHECK(reader.at(10) == -1);
}
