#include <algorithm>
#include <cmath>

#include "bilancetta/density.hpp"
#include "curve_cells.hpp"

namespace bilancetta
{

GridFunction weights_on_grid(const DensityCurve& curve)
{
  const double first_density = density_grid::density_at(0);
  const auto [from, to] = points_between(curve, first_density);
  const double heaviest = curve.density_at(from);
  const double lightest = from < to ? curve.density_at(to) : heaviest;
  if (lightest >= heaviest) {
    return {0, {0.0F}};
  }
  // With room for the splines' outer nodes, one of them beyond the grid at its ends.
  const int first = static_cast<int>(std::floor(density_grid::position_of(lightest))) - 1;
  const int last = static_cast<int>(std::floor(density_grid::position_of(heaviest))) + 2;
  std::vector<double> weight(last - first + 1, 0.0);
  for_each_cell(curve, first_density, [&](double lower, double upper, double at_lower, double at_upper) {
    // Pieces no wider than half a node spacing.
    const int pieces = 1 + static_cast<int>((upper - lower) / lower / (0.5 * density_grid::spacing));
    const double width = (upper - lower) / pieces;
    for (int k = 0; k < pieces; ++k) {
      const double t = (k + 0.5) / pieces;
      const double mass = width * (at_lower + t * (at_upper - at_lower));
      const double place = density_grid::position_of(lower + t * (upper - lower)) - first;
      const auto node = std::clamp(static_cast<int>(place), 1, last - first - 2);
      const auto share = density_grid::spline_shares(place - node);
      for (int j = 0; j < 4; ++j) {
        weight[node - 1 + j] += mass * share[j];
      }
    }
  });
  const int below = std::max(-first, 0);
  const int above = std::max(last - (density_grid::nodes - 1), 0);
  return {first + below, {weight.begin() + below, weight.end() - above}};
}

namespace
{

// Positions on the grid between which the likelihood is above a 100,000th of its highest.
struct Span {
  double low, high;
};
Span span_that_matters(const DensityCurve& curve)
{
  constexpr double negligible = 1e-5;
  const auto matters = [](double likelihood) { return likelihood > negligible; };
  const auto& all = curve.likelihood;
  const auto first = std::max<std::ptrdiff_t>(std::find_if(all.begin(), all.end(), matters) - all.begin() - 1, 0);
  const auto last = std::min<std::ptrdiff_t>(all.rend() - std::find_if(all.rbegin(), all.rend(), matters),
                                             static_cast<std::ptrdiff_t>(all.size()) - 1);
  const double difference = curve.liquid_g_cm3 - curve.air_g_cm3;
  const auto place_of = [&](std::ptrdiff_t point) {
    const double least_share = difference / (density_grid::highest_g_cm3 - curve.air_g_cm3);
    const double density =
        curve.air_g_cm3 + difference / std::max(curve.share_at(static_cast<double>(point)), least_share);
    return std::clamp(density_grid::position_of(density), 0.0, density_grid::nodes - 1.0);
  };
  return {place_of(last), place_of(first)};
}

// Values at nodes shared out by splines, as weights_on_grid lays what is between them.
void share_by_splines(std::vector<float>& value)
{
  const auto [before_part, own, after_part, none] = density_grid::spline_shares(0.0);
  float before = 0.0F;
  for (std::size_t i = 0; i < value.size(); ++i) {
    const float here = value[i];
    const float after = i + 1 < value.size() ? value[i + 1] : 0.0F;
    value[i] = static_cast<float>(before_part * before + own * here + after_part * after);
    before = here;
  }
}

}  // namespace

LevelWeights weights_on_level(const DensityCurve& curve, int most_nodes, int finest, double widest, NodeRange within)
{
  const Span whole = span_that_matters(curve);
  const double low = std::max(whole.low, static_cast<double>(within.first));
  const double high = std::max(low, std::min(whole.high, static_cast<double>(within.last)));
  LevelWeights weights;
  weights.level = finest;
  // In displaced share, as in density, the range is (1 - exp(-its logarithm)) of its larger end.
  const double widest_step = widest * (1.0 - std::exp(-density_grid::spacing * (high - low))) / density_grid::spacing;
  while (weights.level + 1 < density_grid::levels && high - low > static_cast<double>(most_nodes << weights.level) &&
         static_cast<double>(2 << weights.level) <= widest_step) {
    ++weights.level;
  }
  const double step = static_cast<double>(1 << weights.level);
  // A curve narrower than this may have edges between two nodes.
  constexpr double narrow = 16.0;
  if (weights.level == finest && whole.high - whole.low < narrow * step) {
    weights.nodes = weights_on_grid(curve);
    weights.area = weights.nodes.sum();
    for (int level = 0; level < finest; ++level) {
      weights.nodes = halved(weights.nodes);
    }
    weights.nodes = in_eights(weights.nodes);
    return weights;
  }
  const double difference = curve.liquid_g_cm3 - curve.air_g_cm3;
  const auto& all = curve.likelihood;
  weights.nodes.first = std::max(static_cast<int>(std::floor(low / step)) - 1, 0);
  const int count = static_cast<int>(std::ceil(high / step)) + 1 - weights.nodes.first + 1;
  weights.nodes.value.resize(count);
  const double ratio = std::exp(density_grid::spacing * step);
  const double per_share = 1.0 / curve.share_step;
  double density = density_grid::density_at(weights.nodes.first << weights.level);
  for (int i = 0; i < count; ++i, density *= ratio) {
    const double place = (difference / (density - curve.air_g_cm3) - curve.first_share) * per_share;
    const int point = std::clamp(static_cast<int>(place), 0, static_cast<int>(all.size()) - 2);
    const double likelihood = std::max(all[point] + (place - point) * (all[point + 1] - all[point]), 0.0);
    const double mass = likelihood * density * density_grid::spacing * step;
    weights.area += mass;
    weights.nodes.value[i] = static_cast<float>(weights.level == finest ? mass : likelihood);
  }
  if (weights.level == finest) {
    share_by_splines(weights.nodes.value);
  }
  weights.nodes = in_eights(weights.nodes);
  return weights;
}

}  // namespace bilancetta
