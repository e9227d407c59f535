#include "share_grid.hpp"

#include <Eigen/Core>
#include <array>
#include <cmath>

#include "bilancetta/density_grid.hpp"
#include "bilancetta/share_histogram.hpp"
#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

// Shares of four nodes for each part of a node that a point may lie beyond the second of them.
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
BILANCETTA_VECTORISED void convolve(const float* in, const std::vector<float>& kernel, float* out, int count)
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
      per_node_(static_cast<float>(0.5 * density_grid::spacing / scatter)),
      kernel_(kernel_for(scatter, level)),
      reached_(bin_of(highest.share, bins) - first_bin_ + 1)
{
  // Begins at a node of every level, and ends with room for whole registers.
  constexpr int eight = 8;
  const int coarsest = density_grid::levels - 1 - level;
  const int margin = static_cast<int>(kernel_.size()) / 2 + 2;
  first_ = ((node_below(lowest.place, level) - margin) >> coarsest) << coarsest;
  nodes_ = (node_below(highest.place, level) + margin - first_) / eight * eight + 3 * eight;
  lowest_ = static_cast<float>(margin);
  highest_ = static_cast<float>(nodes_ - margin - 12);
  stride_ = static_cast<std::size_t>(nodes_);
  mass_.assign(stride_ * reached_.size(), 0.0F);
}

void ShareGrid::put(float at, float share, float mass)
{
  const int node = static_cast<int>(at);
  const int part = static_cast<int>((at - static_cast<float>(node)) * parts_of_node);
  const int bin = std::clamp(bin_of(share, all_bins_) - first_bin_, 0, bins() - 1);
  reached_[bin].add(node - 1, node + 3);
  Eigen::Array4f::Map(&mass_[bin * stride_ + node - 1]) += mass * Eigen::Array4f::Map(node_shares[part].data());
}

void ShareGrid::add(Point from, Point to, float mass)
{
  // Two scatters apart: beyond sixteen points, few lines of hollow pieces have longer steps.
  const int points = std::min(1 + static_cast<int>(per_node_ * std::abs(to.place - from.place)), 16);
  const float part = 1.0F / static_cast<float>(points);
  for (int k = 0; k < points; ++k) {
    const float t = (static_cast<float>(k) + 0.5F) * part;
    const float at = (from.place + t * (to.place - from.place)) * per_place_ - static_cast<float>(first_);
    if (at >= lowest_ && at < highest_) {
      put(at, from.share + t * (to.share - from.share), part * mass);
    }
  }
}

void ShareGrid::smooth()
{
  const int reach = static_cast<int>(kernel_.size()) / 2;
  std::vector<float> in;
  for (int bin = 0; bin < bins(); ++bin) {
    Range& range = reached_[bin];
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
