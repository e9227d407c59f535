#include "drawn_density.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

#include "bilancetta/members.hpp"
#include "bilancetta/tables.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinRel;

namespace
{

// Hypotheses of at most two variables, whose density saturates where a layer or void fills all or nothing of the piece.
std::vector<Hypothesis> saturating()
{
  const Tables& tables = built_in_tables();
  std::vector<Hypothesis> all;
  for (int row = 0; row < static_cast<int>(tables.builds.size()); ++row) {
    for (const auto& [outer, inner] : {std::pair{"c11000", "zinc-rolled"},
                                       {"nickel", "c11000"},
                                       {"fine-silver", "c11000"},
                                       {"platinum", "nickel"},
                                       {"tungsten", "c11000"},
                                       {"carbon-brush", "c11000"}}) {
      const BuildRow& build = tables.builds[row];
      const auto has = [](const std::vector<int>& materials, const char* key) {
        return std::count(materials.begin(), materials.end(), find_material(built_in_tables(), key)) > 0;
      };
      if (has(build.outer, outer) && has(build.inner, inner)) {
        const int core = find_material(tables, inner);
        all.push_back(layered_hypothesis(tables, row, find_material(tables, outer), core, {0.002, {}}));
      }
    }
  }
  std::erase_if(all, [](const Hypothesis& h) { return h.variables > 2; });
  return all;
}

// The same by the trapezoidal rule over z, with the scatter put on each point: no lines, no steps between draws. The
// hypothesis' own density and the grid's widening are all it has in common with the tables.
class Quadrature
{
 public:
  explicit Quadrature(const Hypothesis& h)
      // What a curve widens by as it is laid on the grid is left out of a prediction.
      : scatter_(std::sqrt(h.scatter * h.scatter - density_grid::spline_variance * std::pow(density_grid::spacing, 2)))
  {
    const auto moved_by = [&](int variable) {
      double z[max_variables] = {};
      z[variable] = 1.0;
      const double above = h.evaluate(z).density;
      z[variable] = -1.0;
      return std::abs(above - h.evaluate(z).density);
    };
    int along = 0;
    for (int k = 1; k < h.variables; ++k) {
      along = moved_by(k) > moved_by(along) ? k : along;
    }
    double z[max_variables] = {};
    add_points(h, along, 0, z);
  }
  [[nodiscard]] double at(double density) const
  {
    const double middle = std::log(density);
    const auto end = points_.upper_bound(place_of(middle + 7.0 * scatter_));
    double sum = 0.0;
    for (auto point = points_.lower_bound(place_of(middle - 7.0 * scatter_)); point != end; ++point) {
      const auto [weight, moment] = point->second;
      const double off = (moment / weight - middle) / scatter_;
      sum += weight * std::exp(-0.5 * off * off);
    }
    return sum / total_ / (std::sqrt(2.0 * M_PI) * scatter_ * density);
  }

 private:
  // Over one variable after another: finely over the one that moves the density most.
  void add_points(const Hypothesis& h, int along, int variable, double* z)
  {
    if (variable == h.variables) {
      const double squares = std::inner_product(z, z + h.variables, z, 0.0);
      const double here = std::log(h.evaluate(z).density);
      const double weight = std::exp(-0.5 * squares);
      auto& [all, moment] = points_[place_of(here)];
      all += weight;
      moment += weight * here;
      total_ += weight;
      return;
    }
    constexpr double reach = 6.0;
    const int steps = variable != along ? 30 : h.variables > 2 ? 300 : 3000;
    for (int i = -steps; i <= steps; ++i) {
      z[variable] = i * reach / steps;
      add_points(h, along, variable + 1, z);
    }
  }
  // Points within a fiftieth of the scatter are summed, at their mean: far finer than what the scatter leaves to see.
  [[nodiscard]] long place_of(double logarithm) const { return std::lround(50.0 * logarithm / scatter_); }
  double scatter_, total_ = 0.0;
  std::map<long, std::pair<double, double>> points_;  // weight, and weight times the logarithm of the density
};

}  // namespace

TEST_CASE("densities that saturate are predicted as a plain quadrature predicts them", "[drawn_density]")
{
  std::vector<Hypothesis> all = saturating();
  REQUIRE(all.size() >= 6);
  // Its balance runs out: the heaviest have no more silver to lose.
  all.push_back(solid_hypothesis(built_in_tables(), find_material(built_in_tables(), "gold-14k-yellow")));
  for (const Hypothesis& h : all) {
    const Member member = member_of(built_in_tables(), h, Member::Serves::verdicts);
    const Quadrature quadrature(h);
    for (std::size_t i = 0; i < member.predicted.value.size(); i += 5) {
      const double density = density_grid::density_at(member.predicted.first + static_cast<int>(i));
      if (member.predicted.value[i] > 0.001 * member.highest) {
        INFO(built_in_tables().materials[h.outer_material].key << " at " << density);
        CHECK_THAT(member.predicted.value[i], WithinRel(quadrature.at(density), 0.05));
      }
    }
  }
}

TEST_CASE("a point laid on the grid and smoothed is a normal distribution, far out too", "[drawn_density]")
{
  constexpr double sd = 0.002;  // of the logarithm of the density
  constexpr int node = 1000;
  for (const double off : {0.0, 0.25, 0.5}) {
    GridFunction point{node - 1, {}};
    for (const double share : density_grid::spline_shares(off)) {
      point.value.push_back(static_cast<float>(share));
    }
    const GridFunction smooth = smoothed(point, sd, density_grid::spline_variance);
    for (int i = 0; i < static_cast<int>(smooth.value.size()); ++i) {
      const double z = density_grid::spacing * (smooth.first + i - node - off) / sd;
      if (std::abs(z) < 4.2) {
        const double normal = density_grid::spacing / sd / std::sqrt(2.0 * M_PI) * std::exp(-0.5 * z * z);
        INFO(z);
        CHECK_THAT(smooth.value[i], WithinRel(normal, 0.015));
      }
    }
  }
}
