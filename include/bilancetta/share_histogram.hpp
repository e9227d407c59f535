#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

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
  template <typename T>
  static int bin_of(T share, int bins)
  {
    return std::min(bins - 1, static_cast<int>(static_cast<T>(bins) * std::sqrt(share)));
  }

  void add(double share, double mass)
  {
    if (share > 0.0) {
      bin_[bin_of(share, static_cast<int>(bin_.size()))] += mass;
    } else {
      zero_ += mass;
    }
  }
  void add_to_bin(int bin, double mass) { bin_[bin] += mass; }
  /// Another of as many bins, times `weight`.
  void add(const ShareHistogram& other, double weight);
  /// Share of the whole mass in the bins below that of a share, and in its own bin; 0 is a bin of its own.
  struct Place {
    double below = 0.0, within = 0.0;
  };
  [[nodiscard]] Place place_of(double share) const;
  /// Linear inside a bin.
  [[nodiscard]] double quantile(double probability) const;
  /// Median, and the quantiles between which that much lies, 0 to 1.
  [[nodiscard]] Band band(double level) const;

 private:
  /// So far along the bins, and the mass below.
  struct Walk {
    std::size_t bin = 0;
    double below = 0.0;
  };
  [[nodiscard]] double total() const;
  /// Where that much mass lies below, from where the walk has come to.
  double share_at(double mass, Walk& walk) const;
  double zero_ = 0.0;
  std::vector<double> bin_;
};

}  // namespace bilancetta
