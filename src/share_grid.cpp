#include "share_grid.hpp"

#include <algorithm>
#include <cmath>

#include "bilancetta/density_grid.hpp"
#include "bilancetta/share_histogram.hpp"
#include "vectorised.hpp"

namespace bilancetta
{

ShareGrid::ShareGrid(int first_node, int node_count, int lowest_bin, int bin_count)
    : first(first_node),
      nodes(node_count),
      first_bin(lowest_bin),
      width(bin_count),
      filled(node_count),
      mass(static_cast<std::size_t>(node_count) * bin_count, 0.0F)
{
}

ShareGrid halved(const ShareGrid& grid)
{
  ShareGrid half(grid.first / 2, (grid.first + grid.nodes) / 2 - grid.first / 2 + 1, grid.first_bin, grid.width);
  const auto add = [&](int from, int node, float part) {
    const auto [low, high] = grid.filled[from];
    float* to = half.row(node - half.first);
    for (int bin = low; bin < high; ++bin) {
      to[bin] += part * grid.row(from)[bin];
    }
    if (low < high) {
      half.filled[node - half.first].add(low, high);
    }
  };
  for (int i = 0; i < grid.nodes; ++i) {
    const int node = grid.first + i;
    if (node % 2 == 0) {
      add(i, node / 2, 1.0F);
    } else {
      add(i, node / 2, 0.5F);
      add(i, node / 2 + 1, 0.5F);
    }
  }
  return half;
}

namespace
{

// Gaussian weights of the nodes about a draw, for each sixteenth of a node that it may lie beyond one.
class Kernels
{
 public:
  Kernels(double sd, int reach) : width_(2 * reach + 1), weight_(static_cast<std::size_t>(parts) * width_)
  {
    for (int part = 0; part < parts; ++part) {
      float* row = &weight_[static_cast<std::size_t>(part) * width_];
      double total = 0.0;
      for (int k = 0; k < width_; ++k) {
        const double off = k - reach - (part + 0.5) / parts;
        total += row[k] = static_cast<float>(std::exp(-0.5 * off * off / (sd * sd)));
      }
      for (int k = 0; k < width_; ++k) {
        row[k] = static_cast<float>(row[k] / total);
      }
    }
  }
  [[nodiscard]] int width() const { return width_; }
  /// @param part_of_node  0 to 1: what lies a hair below a node rounds to 1
  [[nodiscard]] const float* at(float part_of_node) const
  {
    const int part = std::min(static_cast<int>(part_of_node * parts), parts - 1);
    return &weight_[static_cast<std::size_t>(part) * width_];
  }

 private:
  static constexpr int parts = 16;
  int width_;
  std::vector<float> weight_;
};

}  // namespace

BILANCETTA_VECTORISED ShareGrid drawn_share_grid(const std::vector<float>& place, const std::vector<float>& share,
                                                 const std::vector<float>& weight, double scatter, int level, int bins)
{
  // Linear weights onto the nodes and off them again widen by a third of a squared step.
  const auto step = static_cast<float>(1 << level);
  const float per_step = 1.0F / step;
  const double wanted = scatter / density_grid::spacing / step;
  const double sd = std::sqrt(std::max(wanted * wanted - 1.0 / 3.0, 0.04));
  // Far in a tail a few heavy draws with a wide scatter rival many that lie beyond: none of either may be cut off.
  const int reach = std::max(1, static_cast<int>(std::ceil(4.5 * sd)));
  const auto [lowest, highest] = std::minmax_element(place.begin(), place.end());
  const auto [bin_low, bin_high] = std::minmax_element(share.begin(), share.end());
  const int from = static_cast<int>(std::floor(*lowest / step)) - reach;
  const int to = static_cast<int>(std::floor(*highest / step)) + 1 + reach;
  const int first = std::max(0, from);
  const int first_bin = ShareHistogram::bin_of(std::max(*bin_low, 0.0F), bins);
  ShareGrid grid(first, std::max(std::min((density_grid::nodes >> level) - 1, to) - first + 1, 1), first_bin,
                 ShareHistogram::bin_of(*bin_high, bins) - first_bin + 1);

  // First bin by bin: there the nodes that a draw reaches are neighbours.
  const int length = to - from + 1;
  std::vector<float> by_bin(static_cast<std::size_t>(length) * grid.width, 0.0F);
  std::vector<ShareGrid::Range> reached(grid.width);  // nodes of each bin, from `from`
  const Kernels kernels(sd, reach);
  for (std::size_t i = 0; i < place.size(); ++i) {
    const float at = place[i] * per_step;
    const float whole = std::floor(at);
    const float* kernel = kernels.at(at - whole);
    const int bin = ShareHistogram::bin_of(std::max(share[i], 0.0F), bins) - grid.first_bin;
    const int lowest_node = static_cast<int>(whole) - reach - from;
    float* out = &by_bin[static_cast<std::size_t>(length) * bin + lowest_node];
    reached[bin].add(lowest_node, lowest_node + kernels.width());
    for (int k = 0; k < kernels.width(); ++k) {
      out[k] += weight[i] * kernel[k];
    }
  }
  const int off = first - from;
  for (int bin = 0; bin < grid.width; ++bin) {
    for (int node = std::max(reached[bin].low, off); node < std::min(reached[bin].high, grid.nodes + off); ++node) {
      grid.row(node - off)[bin] = by_bin[static_cast<std::size_t>(length) * bin + node];
      grid.filled[node - off].add(bin, bin + 1);
    }
  }
  return grid;
}

}  // namespace bilancetta
