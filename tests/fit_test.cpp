#include "bilancetta/fit.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <map>

#include "normal_bank.hpp"

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

namespace
{

// N(z) L(rho(z)) as -2 ln, up to a constant.
double cost_of(const Hypothesis& h, const double* z, double density, double u)
{
  double total = 0.0;
  for (int k = 0; k < h.variables; ++k) {
    total += z[k] * z[k];
  }
  const double volume_u = std::hypot(u / density, h.scatter) / density;
  const double misfit = (1.0 / h.evaluate(z).density - 1.0 / density) / volume_u;
  return total + misfit * misfit;
}

// Some of every kind: all solids and each row of builds, and the open mix.
std::vector<Hypothesis> every_kind(const Tables& tables)
{
  std::vector<Hypothesis> all;
  for (std::size_t m = 0; m < tables.materials.size(); m += 3) {
    all.push_back(solid_hypothesis(tables, static_cast<int>(m)));
  }
  for (std::size_t row = 0; row < tables.builds.size(); ++row) {
    const BuildRow& build = tables.builds[row];
    const int index = static_cast<int>(row);
    if (build.inner.empty()) {
      all.push_back(hollow_hypothesis(tables, index, build.outer.front()));
    } else {
      all.push_back(layered_hypothesis(tables, index, build.outer.front(), build.inner.back(), {0.1, {}}));
    }
  }
  all.push_back(open_mix_hypothesis(tables));
  return all;
}

}  // namespace

TEST_CASE("no draw explains a reading better than the fit", "[fit]")
{
  const Tables& tables = built_in_tables();
  std::map<std::pair<Kind, bool>, int> tried;
  for (const Hypothesis& h : every_kind(tables)) {
    const double zero[max_variables] = {};
    const double centre = h.evaluate(zero).density;
    for (const double off : {-0.03, 0.0, 0.03}) {
      const double density = centre * (1.0 + off);
      const double u = 0.004 * density;
      const Fit fit = fit_of(h, density, u);
      ++tried[{h.kind, h.outer.porous}];
      const int draws = std::min(bank_for(h.kind, h.variables).draws(), 8192);
      for (int i = 0; i < draws; ++i) {
        double z[max_variables] = {};
        for (int k = 0; k < h.variables; ++k) {
          z[k] = bank_for(h.kind, h.variables).at(i)[k];
        }
        // exp(-cost/2) of no draw is larger, to 1e-6.
        if (cost_of(h, z, density, u) < fit.misfit * fit.misfit - 2e-6) {
          FAIL_CHECK("kind " << static_cast<int>(h.kind) << ", materials " << h.outer_material << " "
                             << h.inner_material << " at " << density << ": a draw costs " << cost_of(h, z, density, u)
                             << ", the fit " << fit.misfit * fit.misfit);
          break;
        }
      }
    }
  }
  for (const Kind kind : {Kind::solid, Kind::plated, Kind::inlay, Kind::hollow, Kind::open_mix}) {
    CHECK(tried[{kind, false}] >= 3);
  }
  CHECK(tried[{Kind::solid, true}] >= 3);
}
