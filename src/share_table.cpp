#include "bilancetta/share_table.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "share_grid.hpp"
#include "vectorised.hpp"

namespace bilancetta
{

ShareTable::ShareTable(const std::vector<float>& place, const std::vector<float>& share,
                       const std::vector<float>& weight, double scatter)
{
  ShareGrid grid = drawn_share_grid(place, share, weight, scatter, finest, bins);
  levels_[0] = packed(grid, true);
  for (std::size_t k = 1; k < levels_.size(); ++k) {
    grid = halved(grid);
    levels_[k] = packed(grid, false);
  }
}

ShareTable::Level ShareTable::packed(const ShareGrid& grid, bool per_density)
{
  Level level;
  level.first = grid.first;
  for (int node = 0; node < grid.nodes; ++node) {
    const float* row = grid.row(node);
    // Far tails are put onto the last bin that matters.
    constexpr float negligible = 3e-4F;
    auto [low, high] = grid.filled[node];
    const float tail = negligible * std::accumulate(row + low, row + high, 0.0F);
    float below = 0.0F;
    float above = 0.0F;
    while (low < high && below + row[low] <= tail) {
      below += row[low++];
    }
    while (high > low && above + row[high - 1] <= tail) {
      above += row[--high];
    }
    Row kept{static_cast<std::int16_t>(grid.first_bin + low), static_cast<std::int16_t>(high - low),
             static_cast<int>(level.mass.size())};
    Sum sum;
    Raised raised;
    // From mass about a node to mass per g/cm3, up to a constant: density grows with the node.
    const double scale = per_density ? std::exp(-density_grid::spacing * (1 << finest) * (level.first + node)) : 1.0;
    for (int bin = low; bin < high; ++bin) {
      const float tails = (bin == low ? below : 0.0F) + (bin + 1 == high ? above : 0.0F);
      level.mass.push_back(static_cast<float>((row[bin] + tails) * scale));
      const float root = (static_cast<float>(grid.first_bin + bin) + 0.5F) / bins;
      const float share = root * root;
      sum.total += level.mass.back();
      raised.first += level.mass.back() * share;
      raised.second += level.mass.back() * share * share;
    }
    while (kept.count % 8 != 0) {
      level.mass.push_back(0.0F);
      ++kept.count;
    }
    if (sum.total > 0.0F) {
      sum.mean_bin = ShareHistogram::bin_of(raised.first / sum.total, bins);
    }
    level.rows.push_back(kept);
    level.sums.push_back(sum);
    level.raised.push_back(raised);
  }
  return level;
}

namespace
{

// The height of each tent, so that tents together follow a curve to the fourth order of their spacing.
void fit_tents(std::vector<float>& value)
{
  constexpr float part = 1.0F / 12.0F;
  float before = 0.0F;
  for (std::size_t i = 0; i < value.size(); ++i) {
    const float here = value[i];
    const float after = i + 1 < value.size() ? value[i + 1] : 0.0F;
    value[i] = std::max(here - part * ((after - here) - (here - before)), 0.0F);
    before = here;
  }
}

}  // namespace

bool ShareTable::fits(const LevelWeights& laid, int most_nodes)
{
  const int nodes = static_cast<int>(laid.nodes.value.size());
  return laid.level == 0 && nodes > 0 && nodes <= most_nodes << finest;
}

LevelWeights ShareTable::weights_of(const DensityCurve& curve, const LevelWeights& laid, int most_nodes,
                                    NodeRange within)
{
  if (fits(laid, most_nodes)) {
    return {finest, in_eights(halved(laid.nodes)), laid.area};
  }
  LevelWeights weights = weights_on_level(curve, most_nodes, finest, 1.25 / most_nodes, within);
  if (weights.level > finest) {
    fit_tents(weights.nodes.value);
  }
  return weights;
}

struct ShareTable::Weighed {
  const Sum* sums = nullptr;
  const float* weights = nullptr;
  int first = 0, count = 0;  // of the level's nodes
  float total = 0.0F;        // mass
};

ShareTable::Weighed ShareTable::weighed_by(const LevelWeights& curve) const
{
  const Level& level = levels_[curve.level - finest];
  const int from = std::max(curve.nodes.first, level.first);
  const int to = std::min(curve.nodes.last() + 1, level.first + static_cast<int>(level.sums.size()));
  if (from >= to) {
    return {};
  }
  Weighed all{level.sums.data() + (from - level.first), curve.nodes.value.data() + (from - curve.nodes.first),
              from - level.first, to - from};
  for (int i = 0; i < all.count; ++i) {
    all.total += all.weights[i] * all.sums[i].total;
  }
  return all;
}

ShareMoments ShareTable::moments(const LevelWeights& curve) const
{
  const Weighed all = weighed_by(curve);
  if (all.total <= 0.0F) {
    return {};
  }
  double sum = 0.0;
  double squares = 0.0;
  const Raised* raised = levels_[curve.level - finest].raised.data() + all.first;
  for (int i = 0; i < all.count; ++i) {
    sum += static_cast<double>(all.weights[i]) * raised[i].first;
    squares += static_cast<double>(all.weights[i]) * raised[i].second;
  }
  const double mean = sum / all.total;
  return {mean, std::sqrt(std::max(0.0, squares / all.total - mean * mean))};
}

BILANCETTA_VECTORISED void ShareTable::add_to(Bins& histogram, const LevelWeights& curve, double mass) const
{
  const Weighed all = weighed_by(curve);
  if (all.total <= 0.0F) {
    return;
  }
  const float factor = static_cast<float>(mass) / all.total;
  const Level& level = levels_[curve.level - finest];
  for (int i = 0; i < all.count; ++i) {
    const float weight = factor * all.weights[i];
    if (weight == 0.0F) {
      continue;  // fills a register
    }
    const Row& row = level.rows[all.first + i];
    const float* in = level.mass.data() + row.offset;
    float* out = histogram.data() + row.bin;
    for (int block = 0; block < row.count; block += 8) {
      for (int k = block; k < block + 8; ++k) {
        out[k] += weight * in[k];
      }
    }
  }
}

void ShareTable::add_means_to(Bins& histogram, const LevelWeights& curve, double mass) const
{
  const Weighed all = weighed_by(curve);
  if (all.total <= 0.0F) {
    return;
  }
  const float factor = static_cast<float>(mass) / all.total;
  for (int i = 0; i < all.count; ++i) {
    histogram[all.sums[i].mean_bin] += factor * all.weights[i] * all.sums[i].total;
  }
}

}  // namespace bilancetta
