#include "line_axes.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <vector>

#include "normal_bank.hpp"

namespace bilancetta
{

namespace
{

using Vector = LineAxes::Vector;

double product_of(const Vector& a, const Vector& b)
{
  double total = 0.0;
  for (std::size_t k = 0; k < a.size(); ++k) {
    total += a[k] * b[k];
  }
  return total;
}

void scale_to(Vector& vector, double length)
{
  const double own = std::sqrt(product_of(vector, vector));
  for (double& value : vector) {
    value *= own > 0.0 ? length / own : 0.0;
  }
}

Vector scaled(Vector vector, double length)
{
  scale_to(vector, length);
  return vector;
}

// x minus twice its part along the mirror, a vector of length 1 or 0.
void reflect(const Vector& mirror, Vector& x)
{
  const double twice = 2.0 * product_of(mirror, x);
  for (std::size_t k = 0; k < x.size(); ++k) {
    x[k] -= twice * mirror[k];
  }
}

// The reflection that swaps an axis with a direction of length 1.
Vector mirror_between(std::size_t axis, const Vector& direction)
{
  Vector mirror = direction;
  mirror[axis] -= 1.0;
  scale_to(mirror, 1.0);
  return mirror;
}

// Direction of the gradient of the density, length 1; all 0 if nothing moves it.
Vector steepest(const Hypothesis& hypothesis, const Vector& from)
{
  constexpr double step = 0.5;
  Vector direction{};
  for (int k = 0; k < hypothesis.variables; ++k) {
    Vector above = from;
    Vector below = from;
    above[k] += step;
    below[k] -= step;
    direction[k] = hypothesis.evaluate(above.data()).density - hypothesis.evaluate(below.data()).density;
  }
  scale_to(direction, 1.0);
  return direction;
}

// The one of highest value; the first if others only equal it.
template <typename Value>
Vector highest_of(const Vector& first, const std::vector<Vector>& others, Value value)
{
  Vector highest = first;
  double most = value(first);
  for (const Vector& other : others) {
    if (const double here = value(other); here > most) {
      highest = other;
      most = here;
    }
  }
  return highest;
}

// Climbs (`sign` 1) or falls (-1) to where the density is extreme at so many standard deviations; length 1. About a
// variable of one side only it may go to and fro, and then the first step counts.
Vector refined(const Hypothesis& hypothesis, const Vector& from, double sign, double distance)
{
  constexpr double much = 1.3;
  const double typical = hypothesis.evaluate(Vector{}.data()).density;
  const auto height = [&](const Vector& way) {
    return sign * (hypothesis.evaluate(scaled(way, distance).data()).density - typical);
  };
  const auto step = [&](const Vector& way) { return scaled(steepest(hypothesis, scaled(way, distance)), sign); };
  const Vector once = step(from);
  const Vector twice = step(once);
  return height(once) > much * height(twice) ? once : twice;
}

// Some ways all around, length 1.
std::vector<Vector> ways_around(const Hypothesis& hypothesis)
{
  constexpr int tried = 48;
  static const std::vector<NormalBank> banks = [tried] {
    std::vector<NormalBank> all;
    for (int variables = 1; variables <= max_variables; ++variables) {
      all.emplace_back(tried, variables);
    }
    return all;
  }();
  const NormalBank& bank = banks[hypothesis.variables - 1];
  std::vector<Vector> ways(tried, Vector{});
  for (int i = 0; i < tried; ++i) {
    std::copy_n(bank.at(i), hypothesis.variables, ways[i].begin());
    scale_to(ways[i], 1.0);
  }
  return ways;
}

// The way of length 1 in which the density goes farthest up (`sign` 1) or down (-1). A piece of odd density is most
// plausible where z is along the gradient there. That is looked for from the gradient in the middle, then from the
// farthest of the ways around.
Vector extreme(const Hypothesis& hypothesis, const std::vector<Vector>& around, Vector middle, double sign)
{
  constexpr double near_by = 2.5;
  constexpr double far = 3.5;
  constexpr double much = 1.3;
  const double typical = hypothesis.evaluate(Vector{}.data()).density;
  const auto height = [&](Vector way) {
    scale_to(way, far);
    return sign * (hypothesis.evaluate(way.data()).density - typical);
  };
  scale_to(middle, sign);
  const Vector near = refined(hypothesis, middle, sign, near_by);
  const Vector other = refined(hypothesis, highest_of(near, around, height), sign, far);
  return height(other) > much * height(near) ? other : near;
}

// Across the first axis, the way in which the density falls most.
class WayAcross
{
 public:
  WayAcross(const Hypothesis& hypothesis, const Vector& first_mirror)
      : hypothesis_(&hypothesis), mirror_(first_mirror), typical_(hypothesis.evaluate(Vector{}.data()).density)
  {
  }
  // Usually that of the lightest pieces, which may take both axes together. But a porous face on copper gets lightest
  // with many pores, of which the middle tells nothing: then the farthest of some ways all around.
  [[nodiscard]] Vector farthest(const std::vector<Vector>& around, const Vector& down) const
  {
    constexpr double much = 1.2;
    const Vector usual = flat(down);
    std::vector<Vector> ways;
    std::transform(around.begin(), around.end(), std::back_inserter(ways),
                   [&](const Vector& way) { return flat(way); });
    const Vector best = highest_of(usual, ways, [&](const Vector& way) { return fall(way); });
    Vector back{};
    back[0] = -1.0;
    const double lightest = fall_at(scaled(down, far));
    const double together = lightest > much * fall_at(place(back, far)) ? lightest : 0.0;
    return fall(best) > much * std::max(fall(usual), together) ? best : usual;
  }

 private:
  static constexpr double far = 4.0;
  // On the axes, without what is along the first; length 1, or 0 if nothing is left.
  [[nodiscard]] Vector flat(Vector way) const
  {
    reflect(mirror_, way);
    way[0] = 0.0;
    scale_to(way, product_of(way, way) > 1e-6 ? 1.0 : 0.0);
    return way;
  }
  [[nodiscard]] Vector place(Vector way, double distance) const
  {
    scale_to(way, distance);
    reflect(mirror_, way);
    return way;
  }
  // How far the density falls to there.
  [[nodiscard]] double fall_at(const Vector& z) const { return typical_ - hypothesis_->evaluate(z.data()).density; }
  // And that way on the axes, or the other.
  [[nodiscard]] double fall(const Vector& way) const
  {
    return std::max(fall_at(place(way, far)), fall_at(place(way, -far)));
  }
  const Hypothesis* hypothesis_;
  Vector mirror_;
  double typical_;
};

}  // namespace

LineAxes::LineAxes(const Hypothesis& hypothesis)
{
  way_[0] = 1.0;
  if (hypothesis.variables < 2) {
    return;
  }
  const Vector middle = steepest(hypothesis, {});
  const std::vector<Vector> around = ways_around(hypothesis);
  const Vector up = extreme(hypothesis, around, middle, 1.0);
  if (product_of(up, up) < 0.5) {
    return;
  }
  first_mirror_ = mirror_between(0, up);
  const Vector second =
      WayAcross(hypothesis, first_mirror_).farthest(around, extreme(hypothesis, around, middle, -1.0));
  if (product_of(second, second) > 0.5) {
    second_mirror_ = mirror_between(1, second);
  }
  turn(way_);
}

void LineAxes::turn(Vector& place) const
{
  reflect(second_mirror_, place);
  reflect(first_mirror_, place);
}

}  // namespace bilancetta
