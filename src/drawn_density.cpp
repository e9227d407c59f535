#include "drawn_density.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace bilancetta
{

namespace
{

constexpr int parts_of_step = LineSet::parts_of_step;

// Masses on consecutive nodes of the grid, counted from a first one, as quadratic splines: `variance` of a squared
// spacing is added wherever they lie.
class NodeMasses
{
 public:
  static constexpr double variance = 0.25;

  NodeMasses(int first, int last) : first_(static_cast<float>(first)), point_(last - first + 1), rise_(last - first + 2)
  {
  }
  /// Mass spread evenly from where the last one ended, or from `begin`, to a position.
  void add_up_to(float to, double mass)
  {
    constexpr float short_way = 0.02F;
    const float way = to - at_;
    const double height = std::abs(way) > short_way ? mass / way : 0.0;
    add_rise(height - height_);
    height_ = height;
    if (height == 0.0) {
      add_point(at_ - first_, mass);
    }
    at_ = to;
  }
  void begin(float at)
  {
    add_rise(-height_);
    height_ = 0.0;
    at_ = at;
  }
  [[nodiscard]] std::vector<float> values(double total)
  {
    begin(at_);
    std::vector<float> all;
    double height = 0.0;
    for (std::size_t i = 0; i < point_.size(); ++i) {
      height += rise_[i];
      all.push_back(static_cast<float>(std::max(point_[i] + height, 0.0) / total));
    }
    return all;
  }

 private:
  void add_point(float at, double mass)
  {
    const int node = static_cast<int>(std::lround(at));
    if (node < 1 || node + 1 >= static_cast<int>(point_.size())) {
      return;
    }
    const double off = at - static_cast<float>(node);
    point_[node - 1] += mass * 0.5 * (0.5 - off) * (0.5 - off);
    point_[node] += mass * (0.75 - off * off);
    point_[node + 1] += mass * 0.5 * (0.5 + off) * (0.5 + off);
  }
  // The sum of cubic splines up to a node is a quadratic one half a spacing before.
  void add_rise(double height)
  {
    const float at = std::clamp(at_ - first_ + 0.5F, 1.0F, static_cast<float>(point_.size()) - 1.01F);
    const int node = static_cast<int>(at);
    const auto share = density_grid::spline_shares(at - static_cast<float>(node));
    for (int k = 0; k < 4; ++k) {
      rise_[node - 1 + k] += height * share[k];
    }
  }
  float first_;
  float at_ = 0.0F;
  double height_ = 0.0;  // per node, where the last mass ended
  std::vector<double> point_, rise_;
};

// What a line's values are between two of its draws: a cubic through four of them. Where layers come to fill a piece
// the density bends within a step. Ends of lines are carried on as parabolas.
class Between
{
 public:
  Between(const std::vector<float>& weights, const std::vector<float>& values, std::size_t i)
      : start_(values[i]), rise_(values[i + 1] - values[i])
  {
    const bool first = i == 0 || weights[parts_of_step * (i - 1)] <= 0.0F;
    const bool last = weights[parts_of_step * (i + 1)] <= 0.0F;
    const float before = first ? 0.0F : rise_ - (values[i] - values[i - 1]);
    const float after = last ? 0.0F : (values[i + 2] - values[i + 1]) - rise_;
    bend_before_ = first ? after : before;
    bend_after_ = last ? before : after;
  }
  [[nodiscard]] float at(float t) const
  {
    // Newton's form, with second differences on both sides.
    return start_ + t * (rise_ - (1.0F - t) / 6.0F * ((2.0F - t) * bend_before_ + (1.0F + t) * bend_after_));
  }

 private:
  float start_, rise_;
  float bend_before_ = 0.0F, bend_after_ = 0.0F;
};

}  // namespace

GridFunction drawn_density_of(const Draws& draws, const std::vector<float>& place, const BentSteps& bent)
{
  // Splines onto the grid and off it.
  constexpr double widened = NodeMasses::variance + density_grid::spline_variance;
  const std::vector<float>& weights = draws.set().parts;
  const auto [lowest, highest] = std::minmax_element(place.begin(), place.end());
  const int first = std::clamp(static_cast<int>(std::floor(*lowest)) - 1, 0, density_grid::nodes - 4);
  const int last = std::clamp(static_cast<int>(std::floor(*highest)) + 2, first + 3, density_grid::nodes - 1);
  NodeMasses masses(first, last);
  BentSteps::Reader bends(bent);
  double total = 0.0;
  for (std::size_t i = 0; i < place.size(); ++i) {
    const float* parts = &weights[parts_of_step * i];
    if (parts[0] <= 0.0F) {
      continue;
    }
    if (i == 0 || weights[parts_of_step * (i - 1)] <= 0.0F) {
      masses.begin(place[i]);
    }
    if (const int step = bends.at(static_cast<int>(i)); step >= 0) {
      for (int quarter = 0; quarter < 4; ++quarter) {
        masses.add_up_to(bent.places[step][quarter], 0.5 * parts[quarter / 2]);
      }
    } else {
      const Between between(weights, place, i);
      for (int part = 0; part < parts_of_step; ++part) {
        masses.add_up_to(between.at(static_cast<float>(part + 1) / parts_of_step), parts[part]);
      }
    }
    total = std::accumulate(parts, parts + parts_of_step, total);
  }
  GridFunction predicted = smoothed({first, masses.values(total)}, draws.hypothesis().scatter, widened);
  for (std::size_t i = 0; i < predicted.value.size(); ++i) {
    // From mass per node to mass per g/cm3.
    const double density = density_grid::density_at(predicted.first + static_cast<int>(i));
    predicted.value[i] /= static_cast<float>(density_grid::spacing * density);
  }
  return predicted;
}

}  // namespace bilancetta
