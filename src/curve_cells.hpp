#pragma once

#include <algorithm>
#include <cmath>

#include "bilancetta/density.hpp"

namespace bilancetta
{

/// From the densest that is considered to some density, in points of the curve.
struct Points {
  double first, last;
};
inline Points points_between(const DensityCurve& curve, double lowest_g_cm3)
{
  const double difference = curve.liquid_g_cm3 - curve.air_g_cm3;
  const auto point_of = [&](double density) {
    return (difference / (density - curve.air_g_cm3) - curve.first_share) / curve.share_step;
  };
  return {std::max(point_of(density_grid::highest_g_cm3), 0.0),
          std::min(point_of(lowest_g_cm3), static_cast<double>(curve.likelihood.size()) - 1.0)};
}

/// Calls `use(lower, upper, at_lower, at_upper)` for each cell of the curve, from the densest down to the lowest
/// density: its ends in g/cm3 and the likelihood at each.
template <typename Use>
void for_each_cell(const DensityCurve& curve, double lowest_g_cm3, Use use)
{
  const auto [first, last] = points_between(curve, lowest_g_cm3);
  double upper = curve.density_at(first);  // each cell begins where the one before ended
  const auto use_from = [&](double from, double to, auto likelihood_at) {
    const double lower = curve.density_at(to);
    use(lower, upper, likelihood_at(to), likelihood_at(from));
    upper = lower;
  };
  for (int j = static_cast<int>(first); j < last; ++j) {
    const double from = std::max(first, static_cast<double>(j));
    const double to = std::min(last, j + 1.0);
    const auto likelihood_at = [&](double point) {
      return curve.likelihood[j] + (point - j) * (curve.likelihood[j + 1] - curve.likelihood[j]);
    };
    // A cell may span many densities (a tiny piece): it is taken in parts of at most 5 % each.
    constexpr double most_ratio = 1.05;
    if (curve.share_at(to) <= most_ratio * curve.share_at(from)) {
      use_from(from, to, likelihood_at);
      continue;
    }
    const double ratio = curve.share_at(to) / curve.share_at(from);
    const int parts = 1 + static_cast<int>(std::log(ratio) / std::log(most_ratio));
    double here = from;
    for (int part = 1; part <= parts; ++part) {
      const double share = curve.share_at(from) * std::pow(ratio, static_cast<double>(part) / parts);
      const double next = part == parts ? to : (share - curve.first_share) / curve.share_step;
      use_from(here, next, likelihood_at);
      here = next;
    }
  }
}

}  // namespace bilancetta
