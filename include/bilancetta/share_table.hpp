#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "bilancetta/density.hpp"
#include "bilancetta/share_histogram.hpp"

namespace bilancetta
{

class ShareGrid;

/// Mean and standard deviation of a share.
struct ShareMoments {
  double mean = 0.0, sd = 0.0;
};

/// How a share is distributed given the density of a piece: mass of each bin of ShareHistogram about every second node
/// of the common grid and, for wide curves, coarser copies, smoothed by the hypothesis' scatter as the predicted
/// density is. Batches read silver from it.
class ShareTable
{
 public:
  /// Bins of the histogram that it adds to.
  static constexpr int bins = 256;
  static constexpr int finest = 1;           ///< level of the grid
  using Bins = std::array<float, bins + 8>;  ///< with room for rows in whole registers
  ShareTable() = default;
  /// @param grid  with all draws, not yet smoothed (src/share_grid.hpp)
  explicit ShareTable(ShareGrid grid);
  [[nodiscard]] bool empty() const { return levels_[0].totals.empty(); }

  /// Whether a curve is so narrow that it takes at most so many nodes of this table's finest level.
  static bool fits(const LevelWeights& laid, int most_nodes);
  /// The curve on this table's levels, on at most so many nodes, since each costs a row of bins.
  /// @param laid    the curve on the finest level that suits it, which spares laying a narrow one anew
  /// @param within  nodes of the grid on which tables are to be read: a wide curve may be laid finer there
  static LevelWeights weights_of(const DensityCurve& curve, const LevelWeights& laid, int most_nodes,
                                 NodeRange within = {});
  /// Of the share's distribution under this curve; all 0 if the table is empty or the curve misses it.
  [[nodiscard]] ShareMoments moments(const LevelWeights& curve) const;
  /// Has memory bring what add_to (`whole`) or add_means_to will read first of each node.
  void fetch(const LevelWeights& curve, bool whole) const;
  /// Adds that distribution, `mass` in all.
  void add_to(Bins& histogram, const LevelWeights& curve, double mass) const noexcept;
  /// The same with the mean share about each node standing for its distribution there: for members of hardly any
  /// weight.
  void add_means_to(Bins& histogram, const LevelWeights& curve, double mass) const;

 private:
  struct Row {
    std::int16_t bin, count;  // count in eights
    int offset;               // in mass
    float unit;               // of mass
  };
  struct Raised {
    float first = 0.0F, second = 0.0F;  // mass x share, mass x share squared
  };
  struct Level {
    int first = 0;
    // Of each node; apart from each other, since most members are asked for the first only.
    std::vector<float> totals;  // mass
    std::vector<int> mean_bins;
    std::vector<Row> rows;
    std::vector<Raised> raised;
    std::vector<std::uint16_t> mass;  // in parts of the largest of its row
    void add(const float* row, int first_bin, int bins_of_row, double scale);
  };
  // Nodes of a level that a curve weighs, and its weights.
  struct Weighed;
  [[nodiscard]] Weighed weighed_by(const LevelWeights& curve) const;
  static Level packed(const ShareGrid& grid, int level);
  std::array<Level, density_grid::levels - finest> levels_;
};

}  // namespace bilancetta
