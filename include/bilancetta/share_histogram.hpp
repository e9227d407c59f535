#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "bilancetta/density_grid.hpp"
#include "bilancetta/hypothesis.hpp"

namespace bilancetta
{

/// A value with a band, equal-tailed.
struct Band {
  double median = 0.0, low = 0.0, high = 0.0;
};

/// Distribution of a share from 0 to 1: the mass at exactly 0 apart, the rest in bins even in the
/// square root of the share, so finer near 0, where plated silver lies.
class ShareHistogram
{
 public:
  explicit ShareHistogram(int bins = 1024) : bin_(bins, 0.0) {}
  static int bin_of(double share, int bins) { return std::min(bins - 1, static_cast<int>(bins * std::sqrt(share))); }

  void add(double share, double mass)
  {
    if (share > 0.0) {
      bin_[bin_of(share, static_cast<int>(bin_.size()))] += mass;
    } else {
      zero_ += mass;
    }
  }
  void add_to_bin(int bin, double mass) { bin_[bin] += mass; }
  /// Share of the whole mass in the bins below that of a share, and in its own bin; 0 is a bin of its own.
  struct Place {
    double below = 0.0, within = 0.0;
  };
  [[nodiscard]] Place place_of(double share) const;
  /// Linear inside a bin.
  [[nodiscard]] double quantile(double probability) const;
  [[nodiscard]] Band band(double level) const
  {
    return {quantile(0.5), quantile(0.5 - 0.5 * level), quantile(0.5 + 0.5 * level)};
  }

 private:
  double zero_ = 0.0;
  std::vector<double> bin_;
};

/// How a share is distributed given the density of a piece: mass of each bin of ShareHistogram at
/// every second node of the common grid, and at every eighth for wide curves, smoothed by the
/// hypothesis' scatter as the predicted density is. Batches read silver from it.
class ShareTable
{
 public:
  /// Bins of the histogram that it adds to.
  static constexpr int bins = 256;
  ShareTable() = default;
  /// @param place   of each draw, position among the grid nodes
  /// @param share   of each draw
  /// @param weight  of each draw
  ShareTable(const std::vector<float>& place, const std::vector<float>& share, const std::vector<float>& weight,
             double scatter);
  [[nodiscard]] bool empty() const { return levels_[0].rows.empty(); }

  /// Curve weights brought onto the coarser nodes of one level.
  struct Curve {
    int level = 0;
    int first = 0;
    std::vector<float> weight;
  };
  static Curve coarser(const GridFunction& weights);
  /// Adds the share's distribution under this curve, `mass` in all.
  void add_to(ShareHistogram& histogram, const Curve& curve, double mass) const;

 private:
  struct Row {
    int bin, count, offset;
  };
  struct Level {
    int first = 0;
    std::vector<Row> rows;
    std::vector<float> mass;
  };
  static constexpr int step_of(int level) { return level == 0 ? 2 : 8; }
  static Level level_of(int step, const std::vector<float>& place, const std::vector<float>& share,
                        const std::vector<float>& weight, double scatter);
  std::array<Level, 2> levels_;
};

}  // namespace bilancetta
