#include "share_grid.hpp"

#include <array>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <numeric>

#include "bilancetta/density_grid.hpp"
#include "bilancetta/share_histogram.hpp"
#include "lanes.hpp"
#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

// Shares of four nodes for each part of a node that a point may lie beyond the second of them.
constexpr int eight = 8;
constexpr int parts_of_node = 64;
constexpr auto node_shares = [] {
  std::array<std::array<float, 4>, parts_of_node> all{};
  for (int part = 0; part < parts_of_node; ++part) {
    const auto exact = density_grid::spline_shares((part + 0.5) / parts_of_node);
    std::transform(exact.begin(), exact.end(), all[part].begin(), [](double s) { return static_cast<float>(s); });
  }
  return all;
}();

// out[i] = sum over k of kernel[k] in[i + k], for a count in eights.
BILANCETTA_VECTORISED void convolve(const float* in, const std::vector<float>& kernel, float* out, int count) noexcept
{
  const int width = static_cast<int>(kernel.size());
  for (int i = 0; i < count; i += 8) {
    std::array<float, 8> sums{};
    for (int k = 0; k < width; ++k) {
      for (int j = 0; j < 8; ++j) {
        sums[j] += kernel[k] * in[i + k + j];
      }
    }
    std::copy(sums.begin(), sums.end(), out + i);
  }
}

std::vector<float> kernel_for(double scatter, int level)
{
  // Splines onto the nodes; curves narrower than a step are read off them between two of these, which widens by this
  // much in the mean (weights_on_grid, then halved), in squared steps.
  const int step = 1 << level;
  const double on_and_off =
      density_grid::spline_variance + density_grid::spline_variance / (step * step) + (level > 0 ? 0.125 : 0.0);
  return smoothing_kernel(scatter / density_grid::spacing / step, on_and_off);
}

// Of a level. Far beyond the common grid nothing is kept.
int node_below(float place, int level)
{
  constexpr float most = 2.0F * density_grid::nodes;
  return static_cast<int>(std::floor(std::clamp(place, -most, most))) >> level;
}

int bin_of(float share, int bins)
{
  return ShareHistogram::bin_of(std::max(share, 0.0F), bins);
}

}  // namespace

ShareGrid::ShareGrid(Point lowest, Point highest, double scatter, int level, int bins)
    : all_bins_(bins),
      first_bin_(bin_of(lowest.share, bins)),
      per_place_(1.0F / static_cast<float>(1 << level)),
      points_per_node_(static_cast<float>(0.5 * (1 << level) * density_grid::spacing / scatter)),
      kernel_(kernel_for(scatter, level)),
      reached_(bin_of(highest.share, bins) - first_bin_ + 1)
{
  // Begins at a node of every level, and ends with room for whole registers.
  const int coarsest = density_grid::levels - 1 - level;
  const int margin = static_cast<int>(kernel_.size()) / 2 + 2;
  first_ = ((node_below(lowest.place, level) - margin) >> coarsest) << coarsest;
  nodes_ = (node_below(highest.place, level) + margin - first_) / eight * eight + 3 * eight;
  lowest_ = static_cast<float>(margin);
  highest_ = static_cast<float>(nodes_ - margin - 12);
  stride_ = static_cast<std::size_t>(nodes_);
  mass_.assign(stride_ * reached_.size(), 0.0F);
}

namespace
{

// So many numbers, and 0 for the others.
BILANCETTA_INLINE Lanes loaded(const float* values, int count)
{
  Lanes lanes(0.0);
  std::memcpy(&lanes, values, sizeof(float) * static_cast<std::size_t>(count));
  return lanes;
}

// drawn_out of eight shares; rounding may have left one a little outside of 0 to 1.
BILANCETTA_INLINE Lanes drawn_out_lanes(const Lanes& share)
{
  const auto little = share.value < 0.5F;
  const Eight left = 0.5F * (little ? share.value : 1.0F - share.value);
  const Eight root = sqrt(Lanes::from(left > 0.0F ? left : Eight{})).value;
  return Lanes::from(little ? root : 1.0F - root);
}

}  // namespace

// Eight points with their masses, `at` in nodes from the first one.
BILANCETTA_INLINE void ShareGrid::put(const Lanes& at, const Lanes& share, const Lanes& mass)
{
  using Whole [[gnu::vector_size(sizeof(Eight))]] = std::int32_t;
  using FourNodes [[gnu::vector_size(4 * sizeof(float))]] = float;
  const int last_bin = bins() - 1;
  const auto inside = at.value >= lowest_ && at.value < highest_ && mass.value > 0.0F;
  const Eight kept = inside ? at.value : Eight{} + lowest_;
  const Whole node = __builtin_convertvector(kept, Whole);
  const Whole part = __builtin_convertvector((kept - __builtin_convertvector(node, Eight)) * parts_of_node, Whole);
  const Lanes along = drawn_out_lanes(share);
  Whole bin = __builtin_convertvector(along.value * static_cast<float>(all_bins_), Whole) - first_bin_;
  bin = bin < 0 ? Whole{} : bin > last_bin ? Whole{} + last_bin : bin;
  const Whole place = bin * static_cast<int>(stride_) + node - 1;
  for (int k = 0; k < Lanes::count; ++k) {
    if (inside[k] != 0) {
      FourNodes shares;
      FourNodes here;
      std::memcpy(&shares, node_shares[part[k]].data(), sizeof shares);
      std::memcpy(&here, &mass_[place[k]], sizeof here);
      here += mass.value[k] * shares;
      std::memcpy(&mass_[place[k]], &here, sizeof here);
    }
  }
}

// Points two scatters apart: most steps take one or two; beyond sixteen, few lines of hollow pieces have longer.
BILANCETTA_VECTORISED BILANCETTA_FLAT void ShareGrid::add(const float* place, const float* share, const float* mass,
                                                          int steps) noexcept
{
  constexpr int most_points = 16;
  using Whole [[gnu::vector_size(sizeof(Eight))]] = std::int32_t;
  for (int first = 0; first < steps; first += Lanes::count) {
    const int count = std::min(steps - first, Lanes::count);
    const Lanes from = loaded(place + first, count) * per_place_ - static_cast<float>(first_);
    const Lanes way = loaded(place + first + 1, count) * per_place_ - static_cast<float>(first_) - from;
    const Lanes share_from = loaded(share + first, count);
    const Lanes share_way = loaded(share + first + 1, count) - share_from;
    Whole points = 1 + __builtin_convertvector((abs(way) * points_per_node_).value, Whole);
    points = points > most_points ? Whole{} + most_points : points;
    const Lanes part = Lanes(1.0) / Lanes::from(__builtin_convertvector(points, Eight));
    int most = 1;
    for (int k = 0; k < count; ++k) {
      most = std::max(most, static_cast<int>(points[k]));
    }
    const Lanes each = loaded(mass + first, count) * part;
    for (int k = 0; k < most; ++k) {
      const Lanes t = (k + 0.5) * part;
      put(from + t * way, share_from + t * share_way, Lanes::from(k < points ? each.value : Eight{}));
    }
  }
}

// From the first to the last eight nodes that hold anything.
ShareGrid::Range ShareGrid::filled_of(int bin) const
{
  const float* row = &mass_[bin * stride_];
  Range filled{0, nodes_};
  // Masses are not negative, and rows are a whole number of eights.
  const auto none = [&](int first) { return std::accumulate(row + first, row + first + eight, 0.0F) == 0.0F; };
  while (filled.low < filled.high && none(filled.low)) {
    filled.low += eight;
  }
  while (filled.high > filled.low && none(filled.high - eight)) {
    filled.high -= eight;
  }
  return filled;
}

void ShareGrid::smooth()
{
  const int reach = static_cast<int>(kernel_.size()) / 2;
  std::vector<float> in;
  for (int bin = 0; bin < bins(); ++bin) {
    Range& range = reached_[bin];
    range = filled_of(bin);
    if (range.low == range.high) {
      continue;
    }
    const Range wide{std::max(range.low - reach, 0), std::min(range.high + reach, nodes_)};
    const int count = (wide.high - wide.low + 7) / 8 * 8;
    // What stands at `low` of the row is read at `2 reach` from the first that is written.
    in.assign(static_cast<std::size_t>(count) + kernel_.size(), 0.0F);
    float* row = &mass_[bin * stride_];
    std::copy(row + range.low, row + range.high, in.begin() + (range.low - (wide.low - reach)));
    convolve(in.data(), kernel_, row + wide.low, count);
    range = wide;
  }
}

void ShareGrid::halve()
{
  for (int bin = 0; bin < bins(); ++bin) {
    Range& range = reached_[bin];
    if (range.low == range.high) {
      continue;
    }
    float* row = &mass_[bin * stride_];
    const Range half{range.low / 2, range.high / 2 + 1};
    // In place: what is written lies before what is still to be read.
    float before = 0.0F;
    for (int node = half.low; node < half.high; ++node) {
      const int at = 2 * node;
      const float here = at < range.low ? 0.0F : at < range.high ? row[at] : 0.0F;
      const float after = at + 1 < range.low || at + 1 >= range.high ? 0.0F : row[at + 1];
      row[node] = here + 0.5F * (before + after);
      before = after;
    }
    range = half;
  }
  first_ /= 2;
  nodes_ = nodes_ / 2 + 1;
}

ShareGrid::Range ShareGrid::reached() const
{
  Range all;
  for (const Range& range : reached_) {
    if (range.low < range.high) {
      all.add(range.low, range.high);
    }
  }
  return all;
}

}  // namespace bilancetta
