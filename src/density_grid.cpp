#include "bilancetta/density_grid.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "vectorised.hpp"

namespace bilancetta
{

double GridFunction::sum() const
{
  return std::accumulate(value.begin(), value.end(), 0.0);
}

BILANCETTA_VECTORISED double dot(const GridFunction& a, const GridFunction& b) noexcept
{
  const int first = std::max(a.first, b.first);
  const int count = std::min(a.last(), b.last()) - first + 1;
  if (count <= 0) {
    return 0.0;
  }
  return dot_of(a.value.data() + (first - a.first), b.value.data() + (first - b.first),
                static_cast<std::size_t>(count));
}

GridFunction in_eights(const GridFunction& function)
{
  constexpr int eight = 8;
  const int first = function.first / eight * eight;
  const int end = (function.last() / eight + 1) * eight;
  GridFunction padded{first, std::vector<float>(end - first, 0.0F)};
  std::copy(function.value.begin(), function.value.end(), padded.value.begin() + (function.first - first));
  return padded;
}

namespace
{

// Widened as the splines do that lay narrow curves on the grid: wide ones are only read at its nodes.
GridFunction widened(const GridFunction& mass)
{
  GridFunction wide{mass.first - 1, std::vector<float>(mass.value.size() + 2, 0.0F)};
  for (std::size_t i = 0; i < mass.value.size(); ++i) {
    wide.value[i] += mass.value[i] / 6.0F;
    wide.value[i + 1] += mass.value[i] * (2.0F / 3.0F);
    wide.value[i + 2] += mass.value[i] / 6.0F;
  }
  return wide;
}

// One step coarser for smooth curves: a node between two is what the cubic through four coarser ones makes of it
// (interpolating subdivision: Deslauriers & Dubuc 1989). A cubic follows a Gaussian's tail; a line between nodes lies
// above it, by a tenth of it and more.
GridFunction halved_smoothly(const GridFunction& mass)
{
  const auto half_of = [](int node) { return (node - (node & 1)) / 2; };
  GridFunction half;
  half.first = half_of(mass.first) - 1;
  half.value.assign(half_of(mass.last()) + 2 - half.first + 1, 0.0F);
  for (std::size_t i = 0; i < mass.value.size(); ++i) {
    const int node = mass.first + static_cast<int>(i);
    float* at = &half.value[half_of(node) - half.first];
    if ((node & 1) == 0) {
      at[0] += mass.value[i];
    } else {
      at[-1] -= mass.value[i] * (1.0F / 16.0F);
      at[0] += mass.value[i] * (9.0F / 16.0F);
      at[1] += mass.value[i] * (9.0F / 16.0F);
      at[2] -= mass.value[i] * (1.0F / 16.0F);
    }
  }
  return half;
}

// What lies before the first node is left out.
GridFunction from_first_node(GridFunction function)
{
  if (function.first < 0) {
    function.value.erase(function.value.begin(), function.value.begin() - function.first);
    function.first = 0;
  }
  return function;
}

}  // namespace

Pyramid::Pyramid(const GridFunction& density)
{
  level_[0] = in_eights(density);
  GridFunction mass = density;
  density_grid::CellWidths widths(mass.first);
  for (float& value : mass.value) {
    value *= static_cast<float>(widths.next());
  }
  mass = widened(mass);
  for (int level = 1; level < density_grid::levels; ++level) {
    mass = halved_smoothly(mass);
    level_[level] = in_eights(from_first_node(mass));
  }
}

GridFunction halved(const GridFunction& mass)
{
  GridFunction half;
  half.first = mass.first / 2;
  half.value.assign((mass.last() + 1) / 2 - half.first + 1, 0.0F);
  for (std::size_t i = 0; i < mass.value.size(); ++i) {
    const int node = mass.first + static_cast<int>(i);
    if (node % 2 == 0) {
      half.value[node / 2 - half.first] += mass.value[i];
    } else {
      half.value[node / 2 - half.first] += 0.5F * mass.value[i];
      half.value[node / 2 + 1 - half.first] += 0.5F * mass.value[i];
    }
  }
  return half;
}

std::vector<float> smoothing_kernel(double sd, double widened, int parts)
{
  const double variance = std::max(sd * sd - widened, 0.04);
  // Splines are sums of uniform distributions: for a variance v their tails lack a fourth cumulant of v/10, which the
  // kernel makes up for (Edgeworth's series). Far out that is some percent.
  const double fourth = std::min(widened / 10.0 / (24.0 * variance * variance), 0.01);
  const int reach = static_cast<int>(std::ceil(4.5 * std::sqrt(variance) * parts));
  std::vector<float> kernel(2 * reach + 1);
  double total = 0.0;
  for (int k = -reach; k <= reach; ++k) {
    const double x = static_cast<double>(k) / parts;
    const double x2 = x * x / variance;
    kernel[k + reach] = static_cast<float>(std::exp(-0.5 * x2) * (1.0 + fourth * (x2 * (x2 - 6.0) + 3.0)));
    total += kernel[k + reach];
  }
  for (float& value : kernel) {
    value = static_cast<float>(value / total);
  }
  return kernel;
}

GridFunction smoothed(const GridFunction& function, double relative_sd, double widened, int parts)
{
  const std::vector<float> kernel = smoothing_kernel(relative_sd / density_grid::spacing, widened, parts);
  const int reach = static_cast<int>(kernel.size()) / 2;
  const int first = std::max(0, function.first * parts - reach);
  const int last = std::min((density_grid::nodes - 1) * parts, function.last() * parts + reach);
  GridFunction result{first, std::vector<float>(std::max(last - first + 1, 0), 0.0F)};
  for (int i = 0; i < static_cast<int>(function.value.size()); ++i) {
    const float value = function.value[i] * static_cast<float>(parts);
    if (value == 0.0F) {
      continue;
    }
    const int start = (function.first + i) * parts - reach - first;
    const int from = std::max(0, -start);
    const int to = std::min(2 * reach + 1, static_cast<int>(result.value.size()) - start);
    for (int k = from; k < to; ++k) {
      result.value[start + k] += value * kernel[k];
    }
  }
  return result;
}

}  // namespace bilancetta
