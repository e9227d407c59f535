#include "bilancetta/share_histogram.hpp"

#include <cassert>
#include <numeric>

#include "vectorised.hpp"

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
  const double all = total();
  if (all <= 0.0) {
    return {};
  }
  if (share <= 0.0) {
    return {0.0, zero_ / all};
  }
  const auto own = bin_.begin() + bin_of(share, static_cast<int>(bin_.size()));
  return {std::accumulate(bin_.begin(), own, zero_) / all, *own / all};
}

double ShareHistogram::total() const
{
  return zero_ + sum_of(bin_.data(), bin_.size());
}

double ShareHistogram::share_at(double mass, Walk& walk) const
{
  if (mass <= zero_) {
    return 0.0;
  }
  const double wanted = mass - zero_;
  while (walk.bin < bin_.size() && walk.below + bin_[walk.bin] < wanted) {
    walk.below += bin_[walk.bin++];
  }
  if (walk.bin == bin_.size()) {
    return 1.0;
  }
  const double here = bin_[walk.bin];
  const double within = here > 0.0 ? (wanted - walk.below) / here : 0.0;
  return drawn_back((static_cast<double>(walk.bin) + within) / static_cast<double>(bin_.size()));
}

double ShareHistogram::quantile(double probability) const
{
  Walk walk;
  return share_at(probability * total(), walk);
}

Band ShareHistogram::band(double level) const
{
  const double all = total();
  Walk walk;
  Band band;
  band.low = share_at((0.5 - 0.5 * level) * all, walk);
  band.median = share_at(0.5 * all, walk);
  band.high = share_at((0.5 + 0.5 * level) * all, walk);
  return band;
}

}  // namespace bilancetta
