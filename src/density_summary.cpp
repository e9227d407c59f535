#include "bilancetta/density.hpp"

#include <algorithm>
#include <cmath>

namespace bilancetta
{

namespace
{

// Mass of each cell of the curve under "every density equally likely", and its ends in density.
template <typename Use>
void for_each_cell(const DensityCurve& curve, Use use)
{
  const double difference = curve.liquid_g_cm3 - curve.air_g_cm3;
  const auto point_of = [&](double density) {
    return (difference / (density - curve.air_g_cm3) - curve.first_share) / curve.share_step;
  };
  const double first = std::max(point_of(density_grid::highest_g_cm3), 0.0);
  const double last =
      std::min(point_of(density_grid::lowest_g_cm3), static_cast<double>(curve.likelihood.size()) - 1.0);
  for (int j = static_cast<int>(first); j < last; ++j) {
    const double from = std::max(first, static_cast<double>(j));
    const double to = std::min(last, j + 1.0);
    const auto likelihood_at = [&](double point) {
      return curve.likelihood[j] + (point - j) * (curve.likelihood[j + 1] - curve.likelihood[j]);
    };
    // A cell may span many densities (a tiny piece): it is taken in parts of at most 5 % each.
    constexpr double most_ratio = 1.05;
    const double ratio = curve.share_at(to) / curve.share_at(from);
    if (ratio <= most_ratio) {
      use(curve.density_at(to), curve.density_at(from), likelihood_at(to), likelihood_at(from));
      continue;
    }
    const int parts = 1 + static_cast<int>(std::log(ratio) / std::log(most_ratio));
    double here = from;
    for (int part = 1; part <= parts; ++part) {
      const double share = curve.share_at(from) * std::pow(ratio, static_cast<double>(part) / parts);
      const double next = part == parts ? to : (share - curve.first_share) / curve.share_step;
      use(curve.density_at(next), curve.density_at(here), likelihood_at(next), likelihood_at(here));
      here = next;
    }
  }
}

struct Quantiles {
  const DensityCurve& curve;
  double total;

  // Density below which this share of the mass lies; cells are walked from the densest down.
  [[nodiscard]] double at(double probability) const
  {
    const double above = (1.0 - probability) * total;
    double passed = 0.0;
    double answer = density_grid::lowest_g_cm3;
    bool found = false;
    for_each_cell(curve, [&](double lower, double upper, double at_lower, double at_upper) {
      const double mass = 0.5 * (at_lower + at_upper) * (upper - lower);
      if (!found && passed + mass >= above) {
        // Inside the cell the likelihood is linear; solve the quadratic for the wanted share.
        const double want = (above - passed) / (upper - lower);
        const double slope = at_lower - at_upper;
        const double t =
            2.0 * want / (at_upper + std::sqrt(std::max(at_upper * at_upper + 2.0 * slope * want, 1e-300)));
        answer = upper - std::clamp(t, 0.0, 1.0) * (upper - lower);
        found = true;
      }
      passed += mass;
    });
    return answer;
  }
};

}  // namespace

DensitySummary summary_of(const DensityCurve& curve, const Weighing& weighing, double level)
{
  double total = 0.0;
  double first = 0.0;
  double second = 0.0;
  double densest_likelihood = 0.0;
  for_each_cell(curve, [&](double lower, double upper, double at_lower, double at_upper) {
    densest_likelihood = upper > 0.9999 * density_grid::highest_g_cm3 ? at_upper : densest_likelihood;
    const double mass = 0.5 * (at_lower + at_upper) * (upper - lower);
    const double middle = 0.5 * (lower + upper);
    total += mass;
    first += mass * middle;
    second += mass * middle * middle;
  });
  DensitySummary s;
  s.level = level;
  if (total > 0.0) {
    const Quantiles quantile{curve, total};
    s.value = quantile.at(0.5);
    s.standard_uncertainty = std::sqrt(std::max(second / total - (first / total) * (first / total), 0.0));
    s.low = quantile.at(0.5 - 0.5 * level);
    s.high = quantile.at(0.5 + 0.5 * level);
    // Is the heaviest density that is considered still well explained?
    s.bounded = densest_likelihood < 1e-2;
  } else {
    // The readings lie outside all densities that are considered: too heavy, or lighter than 0.5.
    s.possible = false;
    s.bounded = curve.share_at(static_cast<double>(curve.likelihood.size()) - 1.0) > 0.5;
    s.value = s.low = s.high = s.bounded ? density_grid::lowest_g_cm3 : density_grid::highest_g_cm3;
  }
  if (!s.bounded) {
    s.high = density_grid::highest_g_cm3;
  }
  Displacement d = displacement_of(weighing.readings);
  d.displaced_g += weighing.shared ? weighing.shared->displaced_shift_g : 0.0;
  if (d.displaced_g > 0.0) {
    s.plain = density_from(d.dry_g, d.displaced_g, curve.liquid_g_cm3, curve.air_g_cm3);
    s.relative_density = d.dry_g / d.displaced_g;
  }
  return s;
}

int decimals_supported_by(double standard_uncertainty)
{
  return std::clamp(static_cast<int>(std::ceil(-std::log10(std::max(standard_uncertainty, 1e-9) / 3.0))), 0, 6);
}

GridFunction weights_on_grid(const DensityCurve& curve)
{
  double lightest = density_grid::highest_g_cm3;
  double heaviest = density_grid::lowest_g_cm3;
  for_each_cell(curve, [&](double lower, double upper, double, double) {
    lightest = std::min(lightest, lower);
    heaviest = std::max(heaviest, upper);
  });
  if (lightest >= heaviest) {
    return {0, {0.0F}};
  }
  const int first = std::max(0, static_cast<int>(std::floor(density_grid::position_of(lightest))));
  const int last = std::min(density_grid::nodes - 1, static_cast<int>(std::ceil(density_grid::position_of(heaviest))));
  std::vector<double> weight(last - first + 2, 0.0);
  for_each_cell(curve, [&](double lower, double upper, double at_lower, double at_upper) {
    // Pieces no wider than half a node spacing, each shared between its two nodes.
    const int pieces = 1 + static_cast<int>((upper - lower) / lower / (0.5 * density_grid::spacing));
    const double width = (upper - lower) / pieces;
    for (int k = 0; k < pieces; ++k) {
      const double t = (k + 0.5) / pieces;
      const double mass = width * (at_lower + t * (at_upper - at_lower));
      const double place = std::clamp(density_grid::position_of(lower + t * (upper - lower)) - first, 0.0,
                                      static_cast<double>(last - first));
      const int node = static_cast<int>(place);
      weight[node] += mass * (1.0 - (place - node));
      weight[node + 1] += mass * (place - node);
    }
  });
  return {first, {weight.begin(), weight.end() - 1}};
}

}  // namespace bilancetta
