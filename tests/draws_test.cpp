#include "draws.hpp"

#include <catch2/catch.hpp>

#include "bilancetta/posterior.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

// No outside source: the same outcome in double precision, one draw at a time.
TEST_CASE("four draws in a register are the same four one by one", "[draws]")
{
  const Tables& tables = built_in_tables();
  const Prepared prepared(tables, PieceSize{20.0, {}});  // thin coats on a large piece are the hardest
  const Members& members = prepared.members(20.0);
  const int silver = find_constituent(tables, "Ag");
  for (std::size_t m = 0; m < members.size(); m += 7) {
    const Hypothesis& h = members[m]->hypothesis;
    INFO(static_cast<int>(h.kind) << ", materials " << h.outer_material << ", " << h.inner_material);
    Draws fours(h);
    Draws ones(h);
    const int draws = static_cast<int>(line_set_for(h).weights.size());
    REQUIRE(draws % 4 == 0);
    REQUIRE(line_set_for(h, true).weights.size() % 4 == 0);
    for (int first = 0; first < draws; first += 4 * (1 + draws / 400)) {
      const int nodes = fours.set().nodes;
      const Four along(0.0F, 0.25F, 0.5F, 0.75F);
      const Four steps = static_cast<float>(first % nodes) + along;
      const Outcome<Four> draws_alone = fours.outcomes(first);
      const Outcome<Four> between = fours.outcomes_at(first / nodes, steps);
      for (int k = 0; k < 4; ++k) {
        const auto same = [&](const Outcome<Four>& together, const Outcome<double>& one) {
          // A hundredth of a node of the grid; voids that leave next to nothing of a piece lose most digits.
          REQUIRE_THAT(together.density[k], WithinRel(one.density, 0.01 * density_grid::spacing));
          REQUIRE_THAT(fraction_of(h, together, silver)[k], WithinAbs(fraction_of(h, one, silver), 3e-6));
        };
        same(draws_alone, ones.outcome(first + k));
        same(between, ones.outcome(first, along[k]));
      }
    }
  }
}
