#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

#include "lanes.hpp"

namespace bilancetta
{

/// Mass of each bin of a share along the nodes of one level of the common grid, before it is packed into a ShareTable.
/// Bin by bin, since nodes that a draw reaches are neighbours there.
class ShareGrid
{
 public:
  /// A place among the nodes of the finest grid, and the share there.
  struct Point {
    float place, share;
  };
  /// Nodes from low up to high.
  struct Range {
    int low = 0, high = 0;
    void add(int from, int to)
    {
      low = low == high ? from : std::min(low, from);
      high = std::max(high, to);
    }
  };

  /// Nothing yet.
  /// @param lowest, highest  place and share between which all will lie
  /// @param scatter          relative standard deviation of the density about a draw's
  /// @param level            of the common grid
  /// @param bins             of the whole share, as ShareHistogram has them
  ShareGrid(Point lowest, Point highest, double scatter, int level, int bins);
  /// Puts the mass of each of some steps evenly along its way, from place[i] and share[i] to place[i + 1] and
  /// share[i + 1].
  void add(const float* place, const float* share, const float* mass, int steps) noexcept;
  /// Spreads all by the scatter: to be done once, when all is there, and before anything is read.
  void smooth();
  /// One level coarser, as a Pyramid is made.
  void halve();

  [[nodiscard]] int first_bin() const { return first_bin_; }
  [[nodiscard]] int bins() const { return static_cast<int>(reached_.size()); }
  /// First node of all bins, which may lie before the common grid.
  [[nodiscard]] int first() const { return first_; }
  /// Nodes of all bins, from the first one.
  [[nodiscard]] Range reached() const;
  /// Nodes of one bin that hold anything: what its row says elsewhere does not count.
  [[nodiscard]] const Range& reached(int bin) const { return reached_[bin]; }
  [[nodiscard]] const float* row(int bin) const { return &mass_[bin * stride_]; }

 private:
  void put(const Lanes& at, const Lanes& share, const Lanes& mass);
  [[nodiscard]] Range filled_of(int bin) const;
  int all_bins_, first_bin_, first_ = 0, nodes_ = 0;
  float per_place_, points_per_node_;
  float lowest_ = 0.0F, highest_ = 0.0F;  // from the first node, where points may lie
  std::vector<float> kernel_;
  std::vector<Range> reached_;
  std::size_t stride_ = 0;
  std::vector<float> mass_;
};

}  // namespace bilancetta
