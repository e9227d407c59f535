#include "drawn_density.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <cstring>
#include <utility>

#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

constexpr int parts_of_step = LineSet::parts_of_step;
static_assert(parts_of_step == 2);

// Four nodes side by side: `density_grid::spline_shares` by powers of t.
using FourNodes [[gnu::vector_size(4 * sizeof(double))]] = double;
constexpr FourNodes spline_powers[] = {{1.0 / 6.0, 2.0 / 3.0, 1.0 / 6.0, 0.0},
                                       {-0.5, 0.0, 0.5, 0.0},
                                       {0.5, -1.0, 0.5, 0.0},
                                       {-1.0 / 6.0, 0.5, -0.5, 1.0 / 6.0}};

// Masses on consecutive nodes of the grid, counted from a first one, as quadratic splines: `variance` of a squared
// spacing is added wherever they lie.
class NodeMasses
{
 public:
  static constexpr double variance = 0.25;

  NodeMasses(int first, int last)
      : first_(static_cast<float>(first)),
        last_rise_(static_cast<float>(last - first) - 0.01F),
        point_(last - first + 1),
        rise_(last - first + 2)
  {
  }
  /// Mass spread evenly from where the last one ended, or from `begin`, to a position.
  BILANCETTA_INLINE void add_up_to(float to, double mass)
  {
    constexpr float short_way = 0.02F;
    const float way = to - at_;
    const bool is_short = std::abs(way) <= short_way;
    const double height = is_short ? 0.0 : mass / way;
    add_rise(height - height_);
    height_ = height;
    if (is_short) {
      add_point(at_ - first_, mass);
    }
    at_ = to;
  }
  BILANCETTA_INLINE void begin(float at)
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
  BILANCETTA_INLINE void add_rise(double height)
  {
    const float at = std::clamp(at_ - first_ + 0.5F, 1.0F, last_rise_);
    const int node = static_cast<int>(at);
    const double t = at - static_cast<float>(node);
    const FourNodes shares = spline_powers[0] + t * (spline_powers[1] + t * (spline_powers[2] + t * spline_powers[3]));
    FourNodes rises;
    std::memcpy(&rises, &rise_[node - 1], sizeof rises);
    rises += height * shares;
    std::memcpy(&rise_[node - 1], &rises, sizeof rises);
  }
  float first_, last_rise_;
  float at_ = 0.0F;
  double height_ = 0.0;  // per node, where the last mass ended
  std::vector<double> point_, rise_;
};

// What a line's value is half the way between two of its draws: that of a cubic through four of them. Where layers come
// to fill a piece the density bends within a step. Ends of lines are carried on as parabolas.
BILANCETTA_INLINE float halfway(const float* values, bool first, bool last)
{
  const float rise = values[1] - values[0];
  const float bend_before = first ? 0.0F : rise - (values[0] - values[-1]);
  const float bend_after = last ? bend_before : (values[2] - values[1]) - rise;
  return 0.5F * (values[0] + values[1]) - (1.0F / 16.0F) * ((first ? bend_after : bend_before) + bend_after);
}

// Adds the mass of all steps, and returns it.
BILANCETTA_VECTORISED double add_steps(const Draws& draws, const std::vector<float>& place, const BentSteps& bent,
                                       NodeMasses& into) noexcept
{
  NodeMasses masses = std::move(into);  // no store can change one of its own: they stay in registers
  const std::vector<float>& weights = draws.set().parts;
  BentSteps::Reader bends(bent);
  double total = 0.0;
  for (const LineSet::Filled& line : draws.set().filled) {
    masses.begin(place[line.first]);
    for (int draw = line.first; draw < line.end; ++draw) {
      const float* parts = &weights[static_cast<std::size_t>(parts_of_step) * draw];
      if (const int step = bends.at(draw); step >= 0) {
        for (int quarter = 0; quarter < 4; ++quarter) {
          masses.add_up_to(bent.places[step][quarter], 0.5 * parts[quarter / 2]);
        }
      } else {
        masses.add_up_to(halfway(&place[draw], draw == line.first, draw + 1 == line.end), parts[0]);
        masses.add_up_to(place[draw + 1], parts[1]);
      }
      total += static_cast<double>(parts[0]) + static_cast<double>(parts[1]);
    }
  }
  into = std::move(masses);
  return total;
}

}  // namespace

GridFunction drawn_density_of(const Draws& draws, const std::vector<float>& place, const BentSteps& bent)
{
  // Splines onto the grid and off it.
  constexpr double widened = NodeMasses::variance + density_grid::spline_variance;
  const Eigen::Map<const Eigen::ArrayXf> places(place.data(), static_cast<Eigen::Index>(place.size()));
  const int first = std::clamp(static_cast<int>(std::floor(places.minCoeff())) - 1, 0, density_grid::nodes - 4);
  const int last = std::clamp(static_cast<int>(std::floor(places.maxCoeff())) + 2, first + 3, density_grid::nodes - 1);
  NodeMasses masses(first, last);
  const double total = add_steps(draws, place, bent, masses);
  GridFunction predicted = smoothed({first, masses.values(total)}, draws.hypothesis().scatter, widened);
  // From mass per node to mass per g/cm3.
  density_grid::CellWidths widths(predicted.first);
  for (float& value : predicted.value) {
    value /= static_cast<float>(widths.next());
  }
  return predicted;
}

}  // namespace bilancetta
