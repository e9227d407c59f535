#include "bilancetta/predictions.hpp"

#include "bilancetta/density.hpp"
#include "bilancetta/posterior.hpp"
#include "referee.hpp"
#include "support.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace
{

double normal(double x, double mean, double sd)
{
  return std::exp(-0.5 * (x - mean) * (x - mean) / (sd * sd)) / (sd * std::sqrt(2.0 * M_PI));
}

// A normal density of `mean` and `sd`, at nodes. Laying a curve on the grid by splines widens it, which what is
// tabulated has to make up for.
GridFunction normal_on_grid(double mean, double sd)
{
  const double widened = density_grid::spline_variance * std::pow(density_grid::spacing * mean, 2);
  const double narrower = std::sqrt(sd * sd - widened);
  GridFunction function{static_cast<int>(density_grid::position_of(mean - 6.0 * sd)), {}};
  const int last = static_cast<int>(density_grid::position_of(mean + 6.0 * sd));
  for (int node = function.first; node <= last; ++node) {
    function.value.push_back(static_cast<float>(normal(density_grid::density_at(node), mean, narrower)));
  }
  return function;
}

}  // namespace

// The product of two normal densities integrates to a normal density of their distance (Bromiley, "Products and
// convolutions of Gaussian probability density functions", Tina memo 2003-003, eq. 6; from memory).
TEST_CASE("predictions meet curves of every width as two normal densities do", "[predictions]")
{
  const std::vector<double> means = {8.5, 10.4, 19.0};
  std::vector<Pyramid> pyramids;
  pyramids.reserve(means.size());
  for (const double mean : means) {
    pyramids.emplace_back(normal_on_grid(mean, 0.01 * mean));
  }
  const Predictions predictions(pyramids);
  for (const double u : {0.003, 0.03, 0.3, 1.0}) {
    for (const double off : {0.0, 1.0, 2.5}) {
      const double density = means[1] + off * std::hypot(u, 0.01 * means[1]);
      const LevelWeights curve = evidence_weights_of(referee::gaussian_curve(density, u));
      std::array<double, 3> all{};
      predictions.under(curve, all.data());
      for (int i = 0; i < 3; ++i) {
        CAPTURE(u, off, i);
        const double sd = std::hypot(u, 0.01 * means[i]);
        const double expected = normal(density, means[i], sd) * u * std::sqrt(2.0 * M_PI);
        if (std::abs(density - means[i]) < 3.0 * sd) {
          CHECK_THAT(all[i], WithinRel(expected, 0.01));
        }
        CHECK_THAT(predictions.under(curve, i), WithinRel(all[i], 1e-4) || WithinAbs(all[i], 1e-9));
      }
    }
  }
}

TEST_CASE("mass below a curve is what lies below its first node", "[predictions]")
{
  const Predictions predictions({Pyramid(normal_on_grid(8.5, 0.085)), Pyramid(normal_on_grid(19.0, 0.19))});
  const LevelWeights curve = evidence_weights_of(referee::gaussian_curve(14.0, 0.1));
  CHECK_THAT(predictions.mass_below(curve, 0), WithinAbs(1.0, 0.01));
  CHECK(predictions.mass_below(curve, 1) == 0.0);
  CHECK(predictions.under(curve, 0) == 0.0);
}

// Many of unlike widths, which share registers; summed one by one.
TEST_CASE("each of many predictions is met as if it stood alone", "[predictions]")
{
  constexpr int many = 21;
  std::vector<Pyramid> pyramids;
  pyramids.reserve(many);
  for (int i = 0; i < many; ++i) {
    pyramids.emplace_back(normal_on_grid(2.0 + 0.9 * (i * 8 % many), 0.006 * (1 + i % 5) * (2.0 + 0.5 * i)));
  }
  const Predictions together(pyramids);
  for (const double density : {2.5, 8.9, 10.4, 19.0}) {
    for (const double u : {0.003, 0.1, 1.0}) {
      const LevelWeights curve = evidence_weights_of(referee::gaussian_curve(density, u));
      std::vector<double> all(pyramids.size());
      together.under(curve, all.data());
      for (std::size_t i = 0; i < pyramids.size(); ++i) {
        CAPTURE(density, u, i);
        const double alone = dot(pyramids[i].level(curve.level), curve.nodes);
        CHECK_THAT(all[i], WithinRel(std::max(alone, 0.0), 1e-4) || WithinAbs(alone, 1e-7));
        CHECK_THAT(together.under(curve, static_cast<int>(i)), WithinRel(all[i], 1e-4) || WithinAbs(all[i], 1e-7));
      }
    }
  }
}
