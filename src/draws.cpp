#include "draws.hpp"

#include <algorithm>
#include <cmath>

namespace bilancetta
{

namespace
{

// How many lines, and draws along each.
struct LineCount {
  int lines, nodes;
};

LineCount lines_of(const Hypothesis& hypothesis)
{
  if (hypothesis.kind == Kind::open_mix) {
    return {4096, 40};
  }
  switch (hypothesis.variables) {
    case 0:
      return {1, 24};
    case 1:
      return {1, 128};
    case 2:
      return {64, 40};
    default:
      return {150, 24};
  }
}

// Ends of the lines, in standard deviations: beyond lies 2e-5 of the mass.
constexpr double reach = 4.3;

double step_along(const Hypothesis& hypothesis)
{
  return 2.0 * reach / (lines_of(hypothesis).nodes - 2);
}

// Of the axes across the lines.
double widening_of(const Hypothesis& hypothesis, int k)
{
  return k == 1 && hypothesis.kind != Kind::open_mix ? 2.0 : 1.2;
}

// Where the first draw of each line lies: lines are shifted by a part of a step against each other.
std::vector<double> line_starts(const Hypothesis& hypothesis)
{
  std::vector<double> starts;
  for (int line = 0; line < lines_of(hypothesis).lines; ++line) {
    const double shift = 0.5 * std::erfc(-bank_for(hypothesis).at(line)[0] * M_SQRT1_2);
    starts.push_back(-reach - shift * step_along(hypothesis));
  }
  return starts;
}

const std::vector<double>& starts_of(const Hypothesis& hypothesis)
{
  const auto up_to = [](Kind kind, int variables) {
    std::vector<std::vector<double>> all;
    Hypothesis h;
    h.kind = kind;
    for (h.variables = 0; h.variables <= variables; ++h.variables) {
      all.push_back(line_starts(h));
    }
    return all;
  };
  static const auto named = up_to(Kind::solid, max_variables);
  static const auto open = up_to(Kind::open_mix, open_mix_variables);
  return (hypothesis.kind == Kind::open_mix ? open : named)[hypothesis.variables];
}

template <typename Vector>
double product_of(const Vector& a, const Vector& b)
{
  double total = 0.0;
  for (std::size_t k = 0; k < a.size(); ++k) {
    total += a[k] * b[k];
  }
  return total;
}

template <typename Vector>
void scale_to(Vector& vector, double length)
{
  const double own = std::sqrt(product_of(vector, vector));
  for (double& value : vector) {
    value *= own > 0.0 ? length / own : 0.0;
  }
}

// x minus twice its part along the mirror, a vector of length 1 or 0.
template <typename Vector>
void reflect(const Vector& mirror, Vector& x)
{
  const double twice = 2.0 * product_of(mirror, x);
  for (std::size_t k = 0; k < x.size(); ++k) {
    x[k] -= twice * mirror[k];
  }
}

// The reflection that swaps an axis with a direction of length 1.
template <typename Vector>
Vector mirror_between(std::size_t axis, const Vector& direction)
{
  Vector mirror = direction;
  mirror[axis] -= 1.0;
  scale_to(mirror, 1.0);
  return mirror;
}

}  // namespace

Draws::Draws(const Hypothesis& hypothesis)
    : hypothesis_(&hypothesis),
      bank_(&bank_for(hypothesis)),
      starts_(&starts_of(hypothesis)),
      nodes_(lines_of(hypothesis).nodes),
      step_(step_along(hypothesis))
{
  way_[0] = 1.0;
  if (hypothesis.variables < 2) {
    return;
  }
  // A piece of odd density is most plausible where z is along the gradient of the density there.
  constexpr double far = 2.5;
  Vector up = steepest({});
  Vector down = up;
  scale_to(down, -1.0);
  for (int round = 0; round < 2; ++round) {
    scale_to(up, far);
    up = steepest(up);
    scale_to(down, far);
    down = steepest(down);
    scale_to(down, -1.0);
  }
  face(up, down);
  reflect(second_mirror_, way_);
  reflect(first_mirror_, way_);
}

// Direction of the gradient of the density, length 1; all 0 if nothing moves it.
Draws::Vector Draws::steepest(const Vector& from) const
{
  constexpr double step = 0.5;
  Vector direction{};
  for (int k = 0; k < hypothesis_->variables; ++k) {
    Vector above = from;
    Vector below = from;
    above[k] += step;
    below[k] -= step;
    direction[k] = hypothesis_->evaluate(above.data()).density - hypothesis_->evaluate(below.data()).density;
  }
  scale_to(direction, 1.0);
  return direction;
}

void Draws::face(Vector up, Vector down)
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

Outcome<double> Draws::outcome(int draw, double along)
{
  const int line = draw / nodes_;
  if (line != line_) {
    line_ = line;
    base_ = {};
    for (int k = 1; k < hypothesis_->variables; ++k) {
      base_[k] = widening_of(*hypothesis_, k) * bank_->at(line)[k];
    }
    reflect(second_mirror_, base_);
    reflect(first_mirror_, base_);
  }
  const double t = (*starts_)[line] + step_ * (draw - line * nodes_ + along);
  double z[max_variables];
  for (int k = 0; k < max_variables; ++k) {
    z[k] = base_[k] + t * way_[k];
  }
  return hypothesis_->evaluate(z);
}

namespace
{

// By number of variables.
std::vector<std::vector<float>> draw_weights(Kind kind, int variables)
{
  std::vector<std::vector<float>> all;
  Hypothesis h;
  h.kind = kind;
  for (h.variables = 0; h.variables <= variables; ++h.variables) {
    const LineCount count = lines_of(h);
    // Masses even within steps widen a normal distribution by a sixth of a squared step.
    const double per_sd = 1.0 / std::sqrt(1.0 - step_along(h) * step_along(h) / 6.0);
    const std::vector<double> starts = line_starts(h);
    std::vector<float>& weights = all.emplace_back();
    for (int line = 0; line < count.lines; ++line) {
      // N(z; 0, 1) / N(z; 0, widening) with z = widening times the bank's value.
      double height = 1.0;
      double exponent = 0.0;
      for (int k = 1; k < h.variables; ++k) {
        const double value = bank_for(h).at(line)[k];
        height *= widening_of(h, k);
        exponent += value * value * (widening_of(h, k) * widening_of(h, k) - 1.0);
      }
      const double of_line = height * std::exp(-0.5 * exponent);
      double passed = 0.0;
      for (int node = 0; node < count.nodes; ++node) {
        const bool last = node + 1 == count.nodes;
        const double next =
            last ? passed : 0.5 * std::erfc(-per_sd * (starts[line] + step_along(h) * (node + 1)) * M_SQRT1_2);
        weights.push_back(static_cast<float>(of_line * (next - passed)));
        passed = next;
      }
    }
  }
  return all;
}

}  // namespace

const std::vector<float>& draw_weights_of(const Hypothesis& hypothesis)
{
  static const auto named = draw_weights(Kind::solid, max_variables);
  static const auto open = draw_weights(Kind::open_mix, open_mix_variables);
  return (hypothesis.kind == Kind::open_mix ? open : named)[hypothesis.variables];
}

GridFunction smoothed(const GridFunction& function, double relative_sd, double widened)
{
  constexpr double h = density_grid::spacing;
  const double sd = std::sqrt(std::max(relative_sd * relative_sd - widened * h * h, 0.04 * h * h)) / h;
  const int reach = static_cast<int>(std::ceil(4.5 * sd));
  std::vector<float> kernel(2 * reach + 1);
  double total = 0.0;
  for (int k = -reach; k <= reach; ++k) {
    kernel[k + reach] = static_cast<float>(std::exp(-0.5 * k * k / (sd * sd)));
    total += kernel[k + reach];
  }
  for (float& value : kernel) {
    value = static_cast<float>(value / total);
  }
  const int first = std::max(0, function.first - reach);
  const int last = std::min(density_grid::nodes - 1, function.last() + reach);
  GridFunction result{first, std::vector<float>(std::max(last - first + 1, 0), 0.0F)};
  for (int i = 0; i < static_cast<int>(function.value.size()); ++i) {
    const float value = function.value[i];
    if (value == 0.0F) {
      continue;
    }
    const int start = function.first + i - reach - first;
    const int from = std::max(0, -start);
    const int to = std::min(2 * reach + 1, static_cast<int>(result.value.size()) - start);
    for (int k = from; k < to; ++k) {
      result.value[start + k] += value * kernel[k];
    }
  }
  return result;
}

}  // namespace bilancetta
