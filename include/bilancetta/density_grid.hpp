#pragma once

#include <cmath>
#include <cstddef>
#include <vector>

namespace bilancetta
{

/// The one grid on which densities meet: log-spaced from 0.5 to 23 g/cm3. Its spacing, 0.0935 %, is
/// less than half of the smallest scatter a table row may have (0.2 %).
namespace density_grid
{

inline constexpr int nodes = 4096;
inline constexpr double lowest_g_cm3 = 0.5;
inline constexpr double highest_g_cm3 = 23.0;
/// Spacing in ln(density): ln(23 / 0.5) / 4095.
inline constexpr double spacing = 3.828641396489095 / (nodes - 1);

inline double density_at(int node)
{
  return lowest_g_cm3 * std::exp(spacing * node);
}
/// Position of a density among the nodes; may lie outside 0 to nodes - 1.
inline double position_of(double density_g_cm3)
{
  return std::log(density_g_cm3 / lowest_g_cm3) / spacing;
}

}  // namespace density_grid

/// A function of density on consecutive nodes of the grid, zero elsewhere.
struct GridFunction {
  int first = 0;
  std::vector<float> value;

  [[nodiscard]] int last() const { return first + static_cast<int>(value.size()) - 1; }
  [[nodiscard]] double sum() const;
};

/// Sum over the nodes that both cover of a * b.
double dot(const GridFunction& a, const GridFunction& b);

}  // namespace bilancetta
