#include "line_axes.hpp"

#include <algorithm>
#include <cmath>

#include "draws.hpp"

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

// Climbs (`sign` 1) or falls (-1) from a place to where the density is extreme at so many standard deviations.
Vector refined(const Hypothesis& hypothesis, Vector place, double sign, double far)
{
  for (int round = 0; round < 2; ++round) {
    scale_to(place, far);
    place = steepest(hypothesis, place);
    scale_to(place, sign);
  }
  scale_to(place, 1.0);
  return place;
}

// The way of length 1 in which the density goes farthest up (`sign` 1) or down (-1). A piece of odd density is most
// plausible where z is along the gradient there. That is looked for from the gradient in the middle, then from the
// highest of some places all around: a porous face on copper gets lightest with many pores, of which the middle tells
// nothing.
Vector farthest(const Hypothesis& hypothesis, const Vector& middle, double sign)
{
  constexpr double far = 2.5;
  constexpr double very_far = 3.5;
  constexpr double much = 1.3;
  constexpr int tried = 32;
  const double typical = hypothesis.evaluate(Vector{}.data()).density;
  const auto height = [&](Vector way) {
    scale_to(way, very_far);
    return sign * (hypothesis.evaluate(way.data()).density - typical);
  };
  Vector start = middle;
  scale_to(start, sign);
  const Vector near = refined(hypothesis, start, sign, far);
  Vector highest = near;
  for (int i = 0; i < tried; ++i) {
    Vector way{};
    std::copy_n(bank_for(hypothesis).at(i), hypothesis.variables, way.begin());
    highest = height(way) > height(highest) ? way : highest;
  }
  const Vector other = refined(hypothesis, highest, sign, very_far);
  return height(other) > much * height(near) ? other : near;
}

}  // namespace

LineAxes::LineAxes(const Hypothesis& hypothesis)
{
  way_[0] = 1.0;
  if (hypothesis.variables > 1) {
    const Vector middle = steepest(hypothesis, {});
    face(farthest(hypothesis, middle, 1.0), farthest(hypothesis, middle, -1.0));
    turn(way_);
  }
}

void LineAxes::turn(Vector& place) const
{
  reflect(second_mirror_, place);
  reflect(first_mirror_, place);
}

void LineAxes::face(Vector up, Vector down)
{
  if (product_of(up, up) < 0.5) {
    return;
  }
  first_mirror_ = mirror_between(0, up);
  reflect(first_mirror_, down);
  down[0] = 0.0;
  if (product_of(down, down) > 1e-6) {
    scale_to(down, 1.0);
    second_mirror_ = mirror_between(1, down);
  }
}

}  // namespace bilancetta
