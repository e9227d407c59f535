#include "draws.hpp"

#include <catch2/catch.hpp>

#include "bilancetta/posterior.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

// No outside source: the same outcome in double precision, one draw at a time.
TEST_CASE("eight draws in a register are the same eight one by one", "[draws]")
{
  const Tables& tables = built_in_tables();
  const Prepared prepared(tables, PieceSize{20.0, {}});  // thin coats on a large piece are the hardest
  const Members& members = prepared.members(20.0);
  const int silver = find_constituent(tables, "Ag");
  for (std::size_t m = 0; m < members.size(); m += 7) {
    const Hypothesis& h = members[m]->hypothesis;
    INFO(static_cast<int>(h.kind) << ", materials " << h.outer_material << ", " << h.inner_material);
    Draws together(h);
    Draws ones(h);
    const LineSet& set = together.set();
    for (int line = 0; line < set.lines; line += 1 + set.lines / 100) {
      const int node = line % (set.nodes - 3);
      const Lanes steps = Lanes::even(node, 0.25);
      const Outcome<Lanes> outcomes = together.outcomes_at(line, steps);
      const Draws::Seen seen = together.seen_at(line, steps, silver);
      for (int k = 0; k < Lanes::count; ++k) {
        const Outcome<double> one = ones.outcome(line * set.nodes + node, 0.25 * k);
        // A hundredth of a node of the grid; voids that leave next to nothing of a piece lose most digits.
        REQUIRE_THAT(outcomes.density.value[k], WithinRel(one.density, 0.01 * density_grid::spacing));
        REQUIRE_THAT(seen.place.value[k], WithinAbs(density_grid::position_of(one.density), 0.01));
        REQUIRE_THAT(fraction_of(h, outcomes, silver).value[k], WithinAbs(fraction_of(h, one, silver), 3e-6));
        REQUIRE_THAT(seen.share.value[k], WithinAbs(fraction_of(h, one, silver), 3e-6));
      }
    }
  }
}
