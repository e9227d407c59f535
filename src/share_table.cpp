#include "bilancetta/share_table.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "share_grid.hpp"
#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

constexpr int eight = 8;

constexpr auto share_of_bin = [] {
  ShareTable::Bins share{};
  for (int bin = 0; bin < ShareTable::bins; ++bin) {
    share[bin] = drawn_back((static_cast<float>(bin) + 0.5F) / ShareTable::bins);
  }
  return share;
}();

// The rows of sixteen nodes at a time: what a bin holds of them are neighbours.
class NodeRows
{
 public:
  static constexpr int nodes = 16;
  explicit NodeRows(const ShareGrid& grid) : grid_(&grid) {}
  void go_to(int first)
  {
    first_ = first;
    for (auto& row : rows_) {
      std::fill(row.begin() + bins_.low, row.begin() + bins_.high, 0.0F);
    }
    bins_ = {};
    for (int bin = 0; bin < grid_->bins(); ++bin) {
      const auto [low, high] = grid_->reached(bin);
      const int from = std::max(low, first);
      const int to = std::min(high, first + nodes);
      for (int node = from; node < to; ++node) {
        rows_[node - first][bin] = grid_->row(bin)[node];
      }
      if (from < to) {
        bins_.add(bin, bin + 1);
      }
    }
  }
  [[nodiscard]] float* row(int node) { return rows_[node - first_].data(); }
  /// Beyond these, rows are empty.
  [[nodiscard]] const ShareGrid::Range& bins() const { return bins_; }

 private:
  const ShareGrid* grid_;
  int first_ = 0;
  ShareGrid::Range bins_;
  std::array<ShareTable::Bins, nodes> rows_{};
};

// Puts far tails of a row onto the last bin that matters, and leaves nothing there. Returns the bins that are left.
ShareGrid::Range without_tails(float* row, ShareGrid::Range bins)
{
  constexpr float negligible = 3e-4F;
  auto [low, high] = bins;
  const float tail = negligible * sum_of(row + low, static_cast<std::size_t>(high - low));
  float below = 0.0F;
  float above = 0.0F;
  while (low < high && below + row[low] <= tail) {
    below += std::exchange(row[low++], 0.0F);
  }
  while (high > low && above + row[high - 1] <= tail) {
    above += std::exchange(row[--high], 0.0F);
  }
  if (low < high) {
    row[low] += below;
    row[high - 1] += above;
  }
  return {low, high};
}

constexpr float most = std::numeric_limits<std::uint16_t>::max();

// Of a row of masses: the largest, and the sums of mass, mass x share and mass x share squared.
struct RowSums {
  float largest = 0.0F, total = 0.0F, once = 0.0F, twice = 0.0F;
};

// Writes a row in parts of its largest. Behind its last bin there is nothing up to a whole register.
BILANCETTA_VECTORISED RowSums pack(const float* row, int first_bin, int bins_of_row, int count,
                                   std::uint16_t* in_units) noexcept
{
  const float largest = bins_of_row > 0 ? *std::max_element(row, row + bins_of_row) : 0.0F;
  const float per_unit = largest > 0.0F ? most / largest : 0.0F;
  Eight total{};
  Eight once{};
  Eight twice{};
  for (int bin = 0; bin < count; bin += eight) {
    Eight here;
    Eight share;
    load(row + bin, here);
    load(&share_of_bin[first_bin + bin], share);
    total += here;
    once += here * share;
    twice += here * share * share;
    store_rounded(per_unit * here, in_units + bin);
  }
  return {largest, sum_of(total), sum_of(once), sum_of(twice)};
}

}  // namespace

void ShareTable::Level::add(const float* row, int first_bin, int bins_of_row, double scale)
{
  const int count = (bins_of_row + eight - 1) / eight * eight;
  const auto offset = static_cast<int>(mass.size());
  mass.resize(mass.size() + static_cast<std::size_t>(count), 0);
  const RowSums sums = pack(row, first_bin, bins_of_row, count, mass.data() + offset);
  const auto factor = static_cast<float>(scale);
  rows.push_back(
      {static_cast<std::int16_t>(first_bin), static_cast<std::int16_t>(count), offset, factor * sums.largest / most});
  const float all = factor * sums.total;
  raised.push_back({factor * sums.once, factor * sums.twice});
  totals.push_back(all);
  mean_bins.push_back(all > 0.0F ? ShareHistogram::bin_of(raised.back().first / all, bins) : 0);
}

ShareTable::Level ShareTable::packed(const ShareGrid& grid, int level)
{
  const ShareGrid::Range reached = grid.reached();
  const int low = std::max(reached.low, -grid.first());
  const int high = std::min(reached.high, (density_grid::nodes >> level) - grid.first());
  Level packed;
  packed.first = grid.first() + low;
  NodeRows rows(grid);
  for (int node = low; node < high; ++node) {
    if ((node - low) % NodeRows::nodes == 0) {
      rows.go_to(node);
    }
    const ShareGrid::Range kept = without_tails(rows.row(node), rows.bins());
    // On the finest from mass about a node to mass per g/cm3, up to a constant: density grows with the node.
    const double scale =
        level == finest ? std::exp(-density_grid::spacing * (1 << finest) * (grid.first() + node)) : 1.0;
    packed.add(rows.row(node) + kept.low, grid.first_bin() + kept.low, kept.high - kept.low, scale);
  }
  packed.mass.shrink_to_fit();
  return packed;
}

ShareTable::ShareTable(ShareGrid grid)
{
  grid.smooth();
  levels_[0] = packed(grid, finest);
  for (int level = finest + 1; level < density_grid::levels; ++level) {
    grid.halve();
    levels_[level - finest] = packed(grid, level);
  }
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
  const float* weights = nullptr;
  int first = 0, count = 0;  // of the level's nodes
  float total = 0.0F;        // mass
};

ShareTable::Weighed ShareTable::weighed_by(const LevelWeights& curve) const
{
  const Level& level = levels_[curve.level - finest];
  const int from = std::max(curve.nodes.first, level.first);
  const int to = std::min(curve.nodes.last() + 1, level.first + static_cast<int>(level.totals.size()));
  if (from >= to) {
    return {};
  }
  Weighed all{curve.nodes.value.data() + (from - curve.nodes.first), from - level.first, to - from};
  all.total = dot_of(all.weights, level.totals.data() + all.first, static_cast<std::size_t>(all.count));
  return all;
}

void ShareTable::fetch(const LevelWeights& curve, bool whole) const
{
  constexpr int in_a_line = 64 / sizeof(Row);  // no more than there are of the others
  const Level& level = levels_[curve.level - finest];
  const int from = std::max(curve.nodes.first, level.first);
  const int to = std::min(curve.nodes.last() + 1, level.first + static_cast<int>(level.totals.size()));
  for (int node = from - level.first; node < to - level.first; node += in_a_line) {
    __builtin_prefetch(&level.totals[node]);
    __builtin_prefetch(whole ? static_cast<const void*>(&level.rows[node]) : &level.mean_bins[node]);
  }
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

BILANCETTA_VECTORISED void ShareTable::add_to(Bins& histogram, const LevelWeights& curve, double mass) const noexcept
{
  const Weighed all = weighed_by(curve);
  if (all.total <= 0.0F) {
    return;
  }
  const float factor = static_cast<float>(mass) / all.total;
  const Level& level = levels_[curve.level - finest];
  for (int i = 0; i < all.count; ++i) {
    if (all.weights[i] == 0.0F) {
      continue;  // fills a register
    }
    const Row& row = level.rows[all.first + i];
    const float weight = factor * all.weights[i] * row.unit;
    const std::uint16_t* in = level.mass.data() + row.offset;
    float* out = histogram.data() + row.bin;
    for (int block = 0; block < row.count; block += eight) {
      Eight here;
      Eight units;
      load(out + block, here);
      load(in + block, units);
      store(here + weight * units, out + block);
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
  const Level& level = levels_[curve.level - finest];
  for (int i = 0; i < all.count; ++i) {
    histogram[level.mean_bins[all.first + i]] += factor * all.weights[i] * level.totals[all.first + i];
  }
}

}  // namespace bilancetta
