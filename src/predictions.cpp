#include "bilancetta/predictions.hpp"

#include <algorithm>
#include <bit>
#include <numeric>

#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

// Neighbours in width first, then in place, so that those of a block have nearly the same nodes.
std::vector<int> neighbours_together(const std::vector<Pyramid>& predicted)
{
  const auto place_of = [&](int which) {
    const GridFunction& function = predicted[which].level(0);
    return std::pair(std::bit_width(function.value.size()), function.first + function.last());
  };
  std::vector<int> order(predicted.size());
  std::iota(order.begin(), order.end(), 0);
  std::stable_sort(order.begin(), order.end(), [&](int a, int b) { return place_of(a) < place_of(b); });
  return order;
}

}  // namespace

Predictions::Predictions(const std::vector<Pyramid>& predicted)
    : order_(neighbours_together(predicted)), rank_(predicted.size())
{
  for (std::size_t rank = 0; rank < order_.size(); ++rank) {
    rank_[order_[rank]] = static_cast<int>(rank);
  }
  for (int k = 0; k < density_grid::levels; ++k) {
    Level& level = levels_[k];
    for (std::size_t begin = 0; begin < order_.size(); begin += together) {
      Block block{density_grid::nodes, 0, level.value.size()};
      const auto members = order_.begin() + static_cast<std::ptrdiff_t>(begin);
      const auto count = static_cast<std::ptrdiff_t>(std::min(together, order_.size() - begin));
      std::for_each(members, members + count, [&](int which) {
        const GridFunction& function = predicted[which].level(k);
        block.first = std::min(block.first, function.first);
        block.end = std::max(block.end, function.last() + 1);
      });
      level.value.resize(block.offset + together * static_cast<std::size_t>(block.end - block.first), 0.0F);
      for (std::ptrdiff_t lane = 0; lane < count; ++lane) {
        const GridFunction& function = predicted[members[lane]].level(k);
        float* at = &level.value[block.at(function.first) + static_cast<std::size_t>(lane)];
        for (std::size_t i = 0; i < function.value.size(); ++i) {
          at[together * i] = function.value[i];
        }
      }
      level.blocks.push_back(block);
    }
  }
}

BILANCETTA_VECTORISED void Predictions::under(const LevelWeights& curve, double* out) const noexcept
{
  const Level& level = levels_[curve.level];
  const auto weight = [&](int node) { return curve.nodes.value[node - curve.nodes.first]; };
  int begin = curve.nodes.first;  // without the zeros that fill its registers
  int end = curve.nodes.last() + 1;
  while (begin < end && weight(begin) == 0.0F) {
    ++begin;
  }
  while (begin < end && weight(end - 1) == 0.0F) {
    --end;
  }
  const int* which = order_.data();
  const int* const last = which + order_.size();
  for (const Block& block : level.blocks) {
    const int from = std::max(block.first, begin);
    const int to = std::min(block.end, end);
    if (from >= to) {
      which += std::min(static_cast<std::ptrdiff_t>(together), last - which);
      continue;
    }
    // Single precision holds 1e-6 of the sum here. Two sums each, since one alone would wait for each addition.
    Eight even{};
    Eight odd{};
    const float* values = level.value.data() + block.at(from);
    Eight here;
    int node = from;
    for (; node + 1 < to; node += 2, values += 2 * together) {
      load(values, here);
      even += here * weight(node);
      load(values + together, here);
      odd += here * weight(node + 1);
    }
    if (node < to) {
      load(values, here);
      even += here * weight(node);
    }
    const Eight sums = even + odd;
    for (std::size_t lane = 0; lane < together && which != last; ++lane, ++which) {
      out[*which] = std::max(sums[lane], 0.0F);
    }
  }
}

double Predictions::under(const LevelWeights& curve, int which) const
{
  const Nodes own = nodes_of(curve.level, which);
  double sum = 0.0;
  for (int node = std::max(own.first, curve.nodes.first); node < std::min(own.end, curve.nodes.last() + 1); ++node) {
    sum += static_cast<double>(own.value(node)) * curve.nodes.value[node - curve.nodes.first];
  }
  return std::max(sum, 0.0);
}

double Predictions::mass_below(const LevelWeights& curve, int which) const
{
  const Nodes own = nodes_of(curve.level, which);
  density_grid::CellWidths widths(own.first);
  double mass = 0.0;
  for (int node = own.first; node < std::min(curve.nodes.first, own.end); ++node) {
    const double width = curve.level == 0 ? widths.next() : 1.0;
    mass += width * own.value(node);
  }
  return mass;
}

Predictions::Nodes Predictions::nodes_of(int level, int which) const
{
  const auto rank = static_cast<std::size_t>(rank_[which]);
  const Block& block = levels_[level].blocks[rank / together];
  return {block.first, block.end, levels_[level].value.data() + block.offset + rank % together};
}

}  // namespace bilancetta
