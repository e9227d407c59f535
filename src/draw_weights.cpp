#include <algorithm>
#include <cassert>
#include <cmath>

#include "bilancetta/analysis.hpp"
#include "draws.hpp"

namespace bilancetta
{

namespace
{

// A line between whole nodes lies above a Gaussian's tail: for the smallest scatter by a tenth of it and more.
constexpr int parts_of_node = 4;

// The curve's integral over the logarithm of density about each node, in which the scatter is normal.
GridFunction over_logarithm(const DensityCurve& curve)
{
  GridFunction weights = weights_on_grid(curve);
  for (std::size_t i = 0; i < weights.value.size(); ++i) {
    weights.value[i] /= static_cast<float>(density_grid::density_at(weights.first + static_cast<int>(i)));
  }
  return weights;
}

// Of the place along values.
double standard_deviation_of(const std::vector<double>& values)
{
  double total = 0.0;
  double sum = 0.0;
  double squares = 0.0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const auto place = static_cast<double>(i);
    total += values[i];
    sum += values[i] * place;
    squares += values[i] * place * place;
  }
  const double mean = total > 0.0 ? sum / total : 0.0;
  return total > 0.0 ? std::sqrt(std::max(squares / total - mean * mean, 0.0)) : 0.0;
}

// So many parts, or the next whole number of them, at least one.
int parts_of(double parts, int most)
{
  return parts <= 1.0 ? 1 : parts >= most ? most : static_cast<int>(std::ceil(parts));
}

}  // namespace

DrawWeights::DrawWeights(const Analysis& analysis, const std::vector<int>& members)
{
  const GridFunction weights = over_logarithm(analysis.curve);
  for (const int i : members) {
    const double scatter = (*analysis.members)[i]->hypothesis.scatter;
    if (smoothed_for(scatter) == nullptr) {
      known_.push_back(smoothed_by(scatter, weights));
    }
  }
}

DrawWeights::DrawWeights(const DensityCurve& curve, double scatter)
    : known_{smoothed_by(scatter, over_logarithm(curve))}
{
}

const DrawWeights::Smoothed* DrawWeights::smoothed_for(double scatter) const
{
  const auto known =
      std::find_if(known_.begin(), known_.end(), [&](const Smoothed& one) { return one.scatter == scatter; });
  return known == known_.end() ? nullptr : &*known;
}

DrawWeights::Smoothed DrawWeights::smoothed_by(double scatter, const GridFunction& weights)
{
  // The line from a value to the next widens by a sixth of a squared part.
  constexpr double by_lines = 1.0 / 6.0 / (parts_of_node * parts_of_node);
  const GridFunction function = smoothed(weights, scatter, density_grid::spline_variance + by_lines, parts_of_node);
  Smoothed all{scatter, function.first, {function.value.begin(), function.value.end()}, {0.0}, {0.0}, 0.0};
  for (std::size_t i = 1; i < all.value.size(); ++i) {
    // The moment is about the first value.
    const double left = all.value[i - 1];
    const double right = all.value[i];
    const double start = static_cast<double>(i) - 1.0;
    all.integral.push_back(all.integral.back() + 0.5 * (left + right));
    all.moment.push_back(all.moment.back() + start * 0.5 * (left + right) + left / 6.0 + right / 3.0);
  }
  all.sd = standard_deviation_of(all.value);
  return all;
}

DrawWeights::Smoothed::Part DrawWeights::Smoothed::up_to(double at) const
{
  const auto node = static_cast<std::size_t>(std::min(at, static_cast<double>(value.size()) - 2.0));
  const double t = at - static_cast<double>(node);
  const double rise = value[node + 1] - value[node];
  const double area = t * (value[node] + 0.5 * t * rise);
  return {integral[node] + area,
          moment[node] + static_cast<double>(node) * area + t * t * (0.5 * value[node] + t * rise / 3.0)};
}

std::vector<WeighedDraw> DrawWeights::of(const Member& member) const
{
  assert(smoothed_for(member.hypothesis.scatter) != nullptr);
  const Smoothed& curve = *smoothed_for(member.hypothesis.scatter);
  const std::vector<float>& own = line_set_for(member.hypothesis, member.fine).weights;
  const double end = static_cast<double>(curve.value.size()) - 1.0;
  // What lies in a part of a step is put at its mean: a part no wider than the scatter, or than half the standard
  // deviation of curve and scatter together, loses little of the spread. The many lines of the open mix have no need of
  // it.
  const int most_parts = member.fine && member.hypothesis.kind != Kind::open_mix ? 8 : 1;
  const double per_widest =
      1.0 / std::max(0.5 * curve.sd, parts_of_node * member.hypothesis.scatter / density_grid::spacing);
  std::vector<WeighedDraw> draws;
  double total = 0.0;
  double last_to = -1.0;
  Smoothed::Part last_passed{};
  for (std::size_t i = 0; i < own.size() && end >= 1.0; ++i) {
    if (own[i] <= 0.0F) {
      continue;
    }
    // Single precision of positions: a step that is nearly none is taken as a hundredth of a node.
    constexpr double least = 0.01 * parts_of_node;
    const double from = parts_of_node * static_cast<double>(member.place[i]) - curve.first;
    double to = parts_of_node * static_cast<double>(member.place[i + 1]) - curve.first;
    to = std::abs(to - from) < least ? from + least : to;
    if (std::max(from, to) <= 0.0 || std::min(from, to) >= end) {
      continue;  // most draws of a sharp weighing
    }
    const int parts = most_parts == 1 ? 1 : parts_of(std::abs(to - from) * per_widest, most_parts);
    const double per_mass = own[i] / (to - from);
    // Most draws begin where the last one ended.
    Smoothed::Part passed = from == last_to ? last_passed : curve.up_to(std::clamp(from, 0.0, end));
    for (int part = 1; part <= parts; ++part) {
      const Smoothed::Part before = passed;
      passed = curve.up_to(std::clamp(part == parts ? to : from + (to - from) * part / parts, 0.0, end));
      // Both are negative where the density falls.
      const double area = passed.integral - before.integral;
      const double mass = per_mass * area;
      if (mass > 0.0) {
        const double along = ((passed.moment - before.moment) / area - from) / (to - from);
        draws.push_back(
            {static_cast<int>(i), static_cast<float>(std::clamp(along, 0.0, 1.0)), static_cast<float>(mass)});
        total += mass;
      }
    }
    last_to = to;
    last_passed = passed;
  }
  for (WeighedDraw& draw : draws) {
    draw.mass = static_cast<float>(draw.mass / total);
  }
  return draws;
}

}  // namespace bilancetta
