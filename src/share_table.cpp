#include "bilancetta/share_table.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "vectorised.hpp"

namespace bilancetta
{

// Mass of every bin at every node, before empty ends are cut off.
struct ShareTable::Dense {
  int first = 0, nodes = 0;
  int first_bin = 0, width = 0;
  std::vector<float> mass;

  float* row(int node) { return &mass[static_cast<std::size_t>(node) * width]; }
  [[nodiscard]] const float* row(int node) const { return &mass[static_cast<std::size_t>(node) * width]; }
  // One level coarser, as a Pyramid is made.
  [[nodiscard]] Dense halved() const
  {
    Dense half{first / 2, (first + nodes) / 2 - first / 2 + 1, first_bin, width, {}};
    half.mass.assign(static_cast<std::size_t>(half.nodes) * width, 0.0F);
    const auto add = [&](int from, int node, float part) {
      float* to = half.row(node - half.first);
      for (int bin = 0; bin < width; ++bin) {
        to[bin] += part * row(from)[bin];
      }
    };
    for (int i = 0; i < nodes; ++i) {
      const int node = first + i;
      if (node % 2 == 0) {
        add(i, node / 2, 1.0F);
      } else {
        add(i, node / 2, 0.5F);
        add(i, node / 2 + 1, 0.5F);
      }
    }
    return half;
  }
};

ShareTable::ShareTable(const std::vector<float>& place, const std::vector<float>& share,
                       const std::vector<float>& weight, double scatter)
{
  Dense dense = drawn(place, share, weight, scatter);
  levels_[0] = packed(dense, true);
  for (std::size_t k = 1; k < levels_.size(); ++k) {
    dense = dense.halved();
    levels_[k] = packed(dense, false);
  }
}

namespace
{

// Gaussian weights of the nodes about a draw, for each sixteenth of a node that it may lie beyond one.
class Kernels
{
 public:
  Kernels(double sd, int reach) : width_(2 * reach + 1), weight_(static_cast<std::size_t>(parts) * width_)
  {
    for (int part = 0; part < parts; ++part) {
      float* row = &weight_[static_cast<std::size_t>(part) * width_];
      double total = 0.0;
      for (int k = 0; k < width_; ++k) {
        const double off = k - reach - (part + 0.5) / parts;
        total += row[k] = static_cast<float>(std::exp(-0.5 * off * off / (sd * sd)));
      }
      for (int k = 0; k < width_; ++k) {
        row[k] = static_cast<float>(row[k] / total);
      }
    }
  }
  [[nodiscard]] int width() const { return width_; }
  /// @param part_of_node  0 to 1: what lies a hair below a node rounds to 1
  [[nodiscard]] const float* at(float part_of_node) const
  {
    const int part = std::min(static_cast<int>(part_of_node * parts), parts - 1);
    return &weight_[static_cast<std::size_t>(part) * width_];
  }

 private:
  static constexpr int parts = 16;
  int width_;
  std::vector<float> weight_;
};

}  // namespace

ShareTable::Dense ShareTable::drawn(const std::vector<float>& place, const std::vector<float>& share,
                                    const std::vector<float>& weight, double scatter)
{
  // Linear weights onto the nodes and off them again widen by a third of a squared step.
  constexpr int step = 1 << finest;
  const double wanted = scatter / density_grid::spacing / step;
  const double sd = std::sqrt(std::max(wanted * wanted - 1.0 / 3.0, 0.04));
  const int reach = std::max(1, static_cast<int>(std::ceil(3.5 * sd)));
  const auto [lowest, highest] = std::minmax_element(place.begin(), place.end());
  const auto [bin_low, bin_high] = std::minmax_element(share.begin(), share.end());
  const int from = static_cast<int>(std::floor(*lowest / step)) - reach;
  const int to = static_cast<int>(std::floor(*highest / step)) + 1 + reach;
  Dense dense;
  dense.first = std::max(0, from);
  dense.nodes = std::max(std::min(density_grid::nodes / step - 1, to) - dense.first + 1, 1);
  dense.first_bin = ShareHistogram::bin_of(std::max(*bin_low, 0.0F), bins);
  dense.width = ShareHistogram::bin_of(*bin_high, bins) - dense.first_bin + 1;
  dense.mass.assign(static_cast<std::size_t>(dense.nodes) * dense.width, 0.0F);

  // First bin by bin: there the nodes that a draw reaches are neighbours.
  const int length = to - from + 1;
  std::vector<float> by_bin(static_cast<std::size_t>(length) * dense.width, 0.0F);
  const Kernels kernels(sd, reach);
  for (std::size_t i = 0; i < place.size(); ++i) {
    const float at = place[i] / step;
    const float whole = std::floor(at);
    const float* kernel = kernels.at(at - whole);
    const int bin = ShareHistogram::bin_of(std::max(share[i], 0.0F), bins) - dense.first_bin;
    float* out = &by_bin[static_cast<std::size_t>(length) * bin + static_cast<int>(whole) - reach - from];
    for (int k = 0; k < kernels.width(); ++k) {
      out[k] += weight[i] * kernel[k];
    }
  }
  for (int node = 0; node < dense.nodes && dense.first + node <= to; ++node) {
    for (int bin = 0; bin < dense.width; ++bin) {
      dense.row(node)[bin] = by_bin[static_cast<std::size_t>(length) * bin + dense.first + node - from];
    }
  }
  return dense;
}

ShareTable::Level ShareTable::packed(const Dense& dense, bool per_density)
{
  Level level;
  level.first = dense.first;
  for (int node = 0; node < dense.nodes; ++node) {
    const float* row = dense.row(node);
    // Far tails are put onto the last bin that matters.
    constexpr float negligible = 3e-4F;
    const float tail = negligible * std::accumulate(row, row + dense.width, 0.0F);
    int low = 0;
    int high = dense.width;
    float below = 0.0F;
    float above = 0.0F;
    while (low < high && below + row[low] <= tail) {
      below += row[low++];
    }
    while (high > low && above + row[high - 1] <= tail) {
      above += row[--high];
    }
    Row kept{static_cast<std::int16_t>(dense.first_bin + low), static_cast<std::int16_t>(high - low),
             static_cast<int>(level.mass.size())};
    Sum sum;
    Raised raised;
    // From mass about a node to mass per g/cm3, up to a constant: density grows with the node.
    const double scale = per_density ? std::exp(-density_grid::spacing * (1 << finest) * (level.first + node)) : 1.0;
    for (int bin = low; bin < high; ++bin) {
      const float tails = (bin == low ? below : 0.0F) + (bin + 1 == high ? above : 0.0F);
      level.mass.push_back(static_cast<float>((row[bin] + tails) * scale));
      const float root = (static_cast<float>(dense.first_bin + bin) + 0.5F) / bins;
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

LevelWeights ShareTable::weights_of(const DensityCurve& curve, int most_nodes)
{
  LevelWeights weights = weights_on_level(curve, most_nodes, finest, 1.25 / most_nodes);
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
