#include "bilancetta/share_histogram.hpp"

#include <cassert>
#include <numeric>

namespace bilancetta
{

void ShareHistogram::add(const ShareHistogram& other, double weight)
{
  assert(bin_.size() == other.bin_.size());
  zero_ += weight * other.zero_;
  for (std::size_t i = 0; i < bin_.size(); ++i) {
    bin_[i] += weight * other.bin_[i];
  }
}

ShareHistogram::Place ShareHistogram::place_of(double share) const
{
  const double total = std::accumulate(bin_.begin(), bin_.end(), zero_);
  if (total <= 0.0) {
    return {};
  }
  if (share <= 0.0) {
    return {0.0, zero_ / total};
  }
  const auto own = bin_.begin() + bin_of(share, static_cast<int>(bin_.size()));
  return {std::accumulate(bin_.begin(), own, zero_) / total, *own / total};
}

double ShareHistogram::quantile(double probability) const
{
  double wanted = probability * std::accumulate(bin_.begin(), bin_.end(), zero_) - zero_;
  if (wanted <= 0.0) {
    return 0.0;
  }
  const int bins = static_cast<int>(bin_.size());
  for (int i = 0; i < bins; ++i) {
    if (bin_[i] >= wanted) {
      const double edge = (i + wanted / bin_[i]) / bins;
      return edge * edge;
    }
    wanted -= bin_[i];
  }
  return 1.0;
}

}  // namespace bilancetta
