#include "bilancetta/predictions.hpp"

#include <algorithm>

#include "vectorised.hpp"

namespace bilancetta
{

Predictions::Predictions(const std::vector<Pyramid>& predicted)
{
  for (int k = 0; k < density_grid::levels; ++k) {
    std::size_t nodes = 0;
    for (const Pyramid& pyramid : predicted) {
      nodes += pyramid.level(k).value.size();
    }
    levels_[k].value.reserve(nodes);
    for (const Pyramid& pyramid : predicted) {
      const GridFunction& function = pyramid.level(k);
      levels_[k].spans.push_back({function.first, function.last() + 1, static_cast<int>(levels_[k].value.size())});
      levels_[k].value.insert(levels_[k].value.end(), function.value.begin(), function.value.end());
    }
  }
}

BILANCETTA_VECTORISED void Predictions::under(const LevelWeights& curve, double* out) const
{
  const Level& level = levels_[curve.level];
  const int first = curve.nodes.first;
  const int end = curve.nodes.last() + 1;
  const float* weights = curve.nodes.value.data();
  for (const Span& span : level.spans) {
    const int from = std::max(span.first, first);
    const int to = std::min(span.end, end);
    // Eight partial sums fill a register; single precision holds 1e-6 of the sum here.
    std::array<float, 8> part{};
    const float* values = level.value.data() + span.offset - span.first;
    for (int node = from; node < to; node += 8) {
      for (int k = 0; k < 8; ++k) {
        part[k] += values[node + k] * weights[node + k - first];
      }
    }
    const float sum = ((part[0] + part[4]) + (part[2] + part[6])) + ((part[1] + part[5]) + (part[3] + part[7]));
    *out++ = std::max(sum, 0.0F);
  }
}

double Predictions::under(const LevelWeights& curve, int which) const
{
  const Level& level = levels_[curve.level];
  const Span& span = level.spans[which];
  double sum = 0.0;
  for (int node = std::max(span.first, curve.nodes.first); node < std::min(span.end, curve.nodes.last() + 1); ++node) {
    sum +=
        static_cast<double>(level.value[span.offset + node - span.first]) * curve.nodes.value[node - curve.nodes.first];
  }
  return std::max(sum, 0.0);
}

double Predictions::mass_below(const LevelWeights& curve, int which) const
{
  const Level& level = levels_[curve.level];
  const Span& span = level.spans[which];
  double mass = 0.0;
  for (int node = span.first; node < std::min(curve.nodes.first, span.end); ++node) {
    const double width = curve.level == 0 ? density_grid::spacing * density_grid::density_at(node) : 1.0;
    mass += width * level.value[span.offset + node - span.first];
  }
  return mass;
}

}  // namespace bilancetta
