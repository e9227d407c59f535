#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

namespace bilancetta
{

/// Mass of every bin of a share at the nodes of one level of the common grid, before it is packed into a ShareTable.
struct ShareGrid {
  /// Bins, or nodes, from low up to high.
  struct Range {
    int low = 0, high = 0;
    void add(int from, int to)
    {
      low = low == high ? from : std::min(low, from);
      high = std::max(high, to);
    }
  };

  ShareGrid(int first_node, int node_count, int lowest_bin, int bin_count);
  float* row(int node) { return &mass[static_cast<std::size_t>(node) * width]; }
  [[nodiscard]] const float* row(int node) const { return &mass[static_cast<std::size_t>(node) * width]; }

  int first, nodes;
  int first_bin, width;
  std::vector<Range> filled;  ///< bins of each node, from first_bin, that hold anything
  std::vector<float> mass;    ///< node by node
};

/// Draws smoothed by the scatter of the density: place, share and weight as for ShareTable.
/// @param bins  of the whole share, as ShareHistogram has them
ShareGrid drawn_share_grid(const std::vector<float>& place, const std::vector<float>& share,
                           const std::vector<float>& weight, double scatter, int level, int bins);
/// One level coarser, as a Pyramid is made.
ShareGrid halved(const ShareGrid& grid);

}  // namespace bilancetta
