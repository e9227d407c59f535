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

/// Shares from 0 to 1 drawn out towards both ends: there is plated silver, and metal that is nearly pure. From 0 to 1
/// too; near an end it goes with the square root of what is left to it.
template <typename T>
T drawn_out(T share)
{
  const auto half = static_cast<T>(0.5);
  return share < half ? std::sqrt(half * share) : 1 - std::sqrt(half * (1 - share));
}
/// The share that is drawn out to this place.
template <typename T>
constexpr T drawn_back(T place)
{
  return place < static_cast<T>(0.5) ? 2 * place * place : 1 - 2 * (1 - place) * (1 - place);
}

/// Distribution of a share from 0 to 1: the mass at exactly 0 apart, the rest in bins even in drawn_out(share).
class ShareHistogram
{
 public:
  explicit ShareHistogram(int bins = 1024) : bin_(bins, 0.0) {}
  template <typename T>
  static int bin_of(T share, int bins)
  {
    return std::min(bins - 1, static_cast<int>(static_cast<T>(bins) * drawn_out(std::min(share, static_cast<T>(1)))));
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
