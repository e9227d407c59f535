#include "bilancetta/fit.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "draws.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;

TEST_CASE("the fit of a typical piece is the typical composition", "[fit]")
{
  const Tables& tables = built_in_tables();
  for (std::size_t m = 0; m < tables.materials.size(); ++m) {
    const Hypothesis h = solid_hypothesis(tables, static_cast<int>(m));
    const Fit fit = fit_of(h, typical_density_g_cm3(tables.materials[m], tables.constituents), 0.01);
    INFO(tables.materials[m].key);
    CHECK(fit.converged);
    CHECK_THAT(fit.misfit, WithinAbs(0.0, 1e-6));
    for (const Component& c : tables.materials[m].components) {
      CHECK_THAT(fraction_of(h, fit.outcome, c.constituent), WithinAbs(c.fraction.typical, 1e-6));
    }
  }
}

TEST_CASE("no draw explains a reading better than the fit", "[fit]")
{
  const Tables& tables = built_in_tables();
  int tried = 0;
  for (std::size_t row = 0; row < tables.builds.size(); ++row) {
    const BuildRow& build = tables.builds[row];
    if (build.build == Build::other) {
      continue;
    }
    const Hypothesis h =
        layered_hypothesis(tables, static_cast<int>(row), build.outer.front(), build.inner.back(), {0.1, {}});
    const double zero[max_variables] = {};
    const double centre = h.evaluate(zero).density;
    for (const double off : {-0.03, 0.0, 0.03}) {
      const double density = centre * (1.0 + off);
      const double u = 0.004 * density;
      const Fit fit = fit_of(h, density, u);
      const auto cost = [&](const double* z) {
        double total = 0.0;
        for (int k = 0; k < h.variables; ++k) {
          total += z[k] * z[k];
        }
        const double volume_u = std::hypot(u / density, h.scatter) / density;
        const double misfit = (1.0 / h.evaluate(z).density - 1.0 / density) / volume_u;
        return total + misfit * misfit;
      };
      ++tried;
      for (int i = 0; i < draws_of(h); ++i) {
        double z[max_variables] = {};
        for (int k = 0; k < h.variables; ++k) {
          z[k] = bank_for(h).at(i)[k];
        }
        // exp(-cost/2) of no draw is larger, to 1e-6.
        if (cost(z) < fit.misfit * fit.misfit - 2e-6) {
          FAIL_CHECK(build.key << " at " << density << ": a draw costs " << cost(z) << ", the fit "
                               << fit.misfit * fit.misfit);
          break;
        }
      }
    }
  }
  CHECK(tried > 30);
}
