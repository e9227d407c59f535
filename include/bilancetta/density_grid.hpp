#pragma once

#include <array>
#include <cmath>
#include <vector>

namespace bilancetta
{

/// The one grid on which densities meet: log-spaced up to 23 g/cm3. Its spacing, 0.0935 %, is less than half of the
/// smallest scatter a table row may have (0.2 %).
namespace density_grid
{

/// Densities that a summary considers. The grid begins at 0.31 g/cm3: a hollow piece that reads little above 0.5 may be
/// lighter than that.
inline constexpr double lowest_g_cm3 = 0.5;
inline constexpr double highest_g_cm3 = 23.0;
/// Spacing in ln(density): ln(23 / 0.5) / 4095.
inline constexpr double spacing = 3.828641396489095 / 4095;
inline constexpr int nodes = 4096 + 512;

inline double density_at(int node)
{
  return highest_g_cm3 * std::exp(spacing * (node - (nodes - 1)));
}
/// The widths of consecutive nodes' cells, g/cm3, from one node on.
class CellWidths
{
 public:
  explicit CellWidths(int first_node) : width_(spacing * density_at(first_node)) {}
  double next()
  {
    const double here = width_;
    width_ *= ratio_;
    return here;
  }

 private:
  double width_;
  double ratio_ = std::exp(spacing);
};
/// Position of a density among the nodes; may lie outside 0 to nodes - 1.
inline double position_of(double density_g_cm3)
{
  constexpr double per_spacing = 1.0 / spacing;
  constexpr double of_density_1 = nodes - 1 - 3.1354942159291497 * per_spacing;  // ln(23)
  return of_density_1 + std::log(density_g_cm3) * per_spacing;
}

/// Shares of the nodes -1, 0, 1 and 2 in what lies at 0 to 1: a cubic B-spline. It leaves the mean where it was and
/// widens alike wherever that is, by `spline_variance` squared spacings; linear shares would by 0 to 1/4.
constexpr std::array<double, 4> spline_shares(double t)
{
  constexpr double sixth = 1.0 / 6.0;
  const double s = 1.0 - t;
  return {sixth * (s * s * s), sixth * (4.0 + t * t * (3.0 * t - 6.0)), sixth * (4.0 + s * s * (3.0 * s - 6.0)),
          sixth * (t * t * t)};
}
inline constexpr double spline_variance = 1.0 / 3.0;

/// Coarser copies of the grid for wide curves: level k has every 2^k-th node.
inline constexpr int levels = 8;

}  // namespace density_grid

/// Consecutive nodes of the grid, by default all.
struct NodeRange {
  int first = 0, last = density_grid::nodes - 1;
};

/// A function of density on consecutive nodes of the grid, zero elsewhere.
struct GridFunction {
  int first = 0;
  std::vector<float> value;

  [[nodiscard]] int last() const { return first + static_cast<int>(value.size()) - 1; }
  [[nodiscard]] double sum() const;
};

/// Sum over the nodes that both cover of a * b.
double dot(const GridFunction& a, const GridFunction& b) noexcept;

/// Weights of a Gaussian on nodes about its middle, 1 in all. @param sd  in spacings
/// @param widened  squared spacings by which splines widen what is smoothed before or after; that is taken off here
/// @param parts  of a spacing from each weight to the next
std::vector<float> smoothing_kernel(double sd, double widened, int parts = 1);

/// Gaussian smoothing in ln(density) by a relative standard deviation. @param widened  squared spacings by which what
/// brings values onto the grid and off it again widens (each spline by `spline_variance`); that is taken off here
/// @param parts  of a spacing from each value to the next: `first` counts in these too
GridFunction smoothed(const GridFunction& function, double relative_sd, double widened = density_grid::spline_variance,
                      int parts = 1);

/// The same with zeros around it, so that it begins and ends at multiples of eight nodes: sums over two such functions
/// then run over whole registers.
GridFunction in_eights(const GridFunction& function);

/// How much a curve of likelihood weighs each node of one level of the grid.
struct LevelWeights {
  int level = 0;
  GridFunction nodes;
  double area = 0.0;  ///< integral of the curve over density, g/cm3
};

/// A probability density with its coarser copies. At level 0 it is the density at each node, which expects curves laid
/// on the grid by splines (weights_on_grid); above, the weights that each node has when a smooth curve, known at the
/// nodes, is integrated: some are slightly below 0.
class Pyramid
{
 public:
  Pyramid() = default;
  explicit Pyramid(const GridFunction& density);
  [[nodiscard]] const GridFunction& level(int level) const { return level_[level]; }

 private:
  std::array<GridFunction, density_grid::levels> level_;
};

/// One step coarser: each node takes half of what stood on its odd neighbours.
GridFunction halved(const GridFunction& mass);

}  // namespace bilancetta
