#include "bilancetta/share_histogram.hpp"

#include <map>
#include <numeric>

namespace bilancetta
{

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

ShareTable::ShareTable(const std::vector<float>& place, const std::vector<float>& share,
                       const std::vector<float>& weight, double scatter)
{
  for (int level = 0; level < 2; ++level) {
    levels_[level] = level_of(step_of(level), place, share, weight, scatter);
  }
}

ShareTable::Level ShareTable::level_of(int step, const std::vector<float>& place, const std::vector<float>& share,
                                       const std::vector<float>& weight, double scatter)
{
  // Linear weights onto the nodes and off them again widen by a third of a squared step.
  const double wanted = scatter / density_grid::spacing / step;
  const double sd = std::sqrt(std::max(wanted * wanted - 1.0 / 3.0, 0.04));
  const int reach = std::max(1, static_cast<int>(std::ceil(3.5 * sd)));
  const auto [lowest, highest] = std::minmax_element(place.begin(), place.end());
  Level level;
  level.first = std::max(0, static_cast<int>(*lowest) / step - reach);
  const int last = std::min(density_grid::nodes / step - 1, static_cast<int>(*highest) / step + 1 + reach);
  const int nodes = std::max(last - level.first + 1, 1);

  std::vector<double> kernel(2 * reach + 2);
  const auto [bin_low, bin_high] = std::minmax_element(share.begin(), share.end());
  const int first_bin = ShareHistogram::bin_of(std::max(*bin_low, 0.0F), bins);
  const int width = ShareHistogram::bin_of(*bin_high, bins) - first_bin + 1;
  std::vector<float> dense(static_cast<std::size_t>(nodes) * width, 0.0F);
  for (std::size_t i = 0; i < place.size(); ++i) {
    const double at = static_cast<double>(place[i]) / step - level.first;
    const int from = std::max(0, static_cast<int>(std::ceil(at)) - reach);
    const int to = std::min(nodes - 1, static_cast<int>(std::floor(at)) + reach);
    double total = 0.0;
    for (int node = from; node <= to; ++node) {
      total += kernel[node - from] = std::exp(-0.5 * (node - at) * (node - at) / (sd * sd));
    }
    const int bin = ShareHistogram::bin_of(share[i], bins) - first_bin;
    for (int node = from; node <= to; ++node) {
      dense[static_cast<std::size_t>(node) * width + bin] +=
          static_cast<float>(weight[i] * kernel[node - from] / total);
    }
  }
  for (int node = 0; node < nodes; ++node) {
    const float* row = &dense[static_cast<std::size_t>(node) * width];
    int low = 0;
    int high = width;
    while (low < high && row[low] <= 0.0F) {
      ++low;
    }
    while (high > low && row[high - 1] <= 0.0F) {
      --high;
    }
    level.rows.push_back({first_bin + low, high - low, static_cast<int>(level.mass.size())});
    // Mass per node to mass per g/cm3, up to a constant: density grows with the node.
    const auto per_density = static_cast<float>(std::exp(-density_grid::spacing * step * (level.first + node)));
    for (int bin = low; bin < high; ++bin) {
      level.mass.push_back(row[bin] * per_density);
    }
  }
  return level;
}

ShareTable::Curve ShareTable::coarser(const GridFunction& weights)
{
  constexpr std::size_t wide = 256;
  Curve curve;
  curve.level = weights.value.size() > wide ? 1 : 0;
  const int step = step_of(curve.level);
  curve.first = weights.first / step;
  curve.weight.assign(weights.value.size() / step + 3, 0.0F);
  for (std::size_t i = 0; i < weights.value.size(); ++i) {
    const float at = static_cast<float>(weights.first + static_cast<int>(i)) / static_cast<float>(step) -
                     static_cast<float>(curve.first);
    const int node = static_cast<int>(at);
    const float t = at - static_cast<float>(node);
    curve.weight[node] += weights.value[i] * (1.0F - t);
    curve.weight[node + 1] += weights.value[i] * t;
  }
  return curve;
}

void ShareTable::add_to(ShareHistogram& histogram, const Curve& curve, double mass) const
{
  const Level& level = levels_[curve.level];
  const int from = std::max(curve.first, level.first);
  const int to =
      std::min(curve.first + static_cast<int>(curve.weight.size()), level.first + static_cast<int>(level.rows.size()));
  std::array<float, bins> found;
  int low = bins;
  int high = 0;
  for (int node = from; node < to; ++node) {
    const Row& row = level.rows[node - level.first];
    low = row.count > 0 ? std::min(low, row.bin) : low;
    high = std::max(high, row.bin + row.count);
  }
  if (low >= high) {
    return;
  }
  std::fill(found.begin() + low, found.begin() + high, 0.0F);
  for (int node = from; node < to; ++node) {
    const Row& row = level.rows[node - level.first];
    const float weight = curve.weight[node - curve.first];
    const float* in = level.mass.data() + row.offset;
    float* out = found.data() + row.bin;
    for (int k = 0; k < row.count; ++k) {
      out[k] += weight * in[k];
    }
  }
  const double total = std::accumulate(found.begin() + low, found.begin() + high, 0.0);
  if (total > 0.0) {
    for (int bin = low; bin < high; ++bin) {
      histogram.add_to_bin(bin, mass * found[bin] / total);
    }
  }
}

}  // namespace bilancetta
