#include "reading_likelihood.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <cstring>
#include <numeric>

#include "normal_table.hpp"
#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

// Five equally likely values of chi-square(9)/9 (its quantiles at 0.1, 0.3, ...): a scale's stated
// repeatability is worth about nine degrees of freedom (judgement).
constexpr double chi_square_share[] = {0.4631, 0.7104, 0.927, 1.184, 1.6315};

// Displays repeat themselves: each value once, with how often it was read.
std::vector<std::pair<double, int>> counted(std::vector<double> displayed)
{
  std::sort(displayed.begin(), displayed.end());
  std::vector<std::pair<double, int>> all;
  for (const double value : displayed) {
    if (all.empty() || value != all.back().first) {
      all.emplace_back(value, 0);
    }
    ++all.back().second;
  }
  return all;
}

double power(double base, int exponent)
{
  double result = base;
  for (int i = 1; i < exponent; ++i) {
    result *= base;
  }
  return result;
}

}  // namespace

ReadingLikelihood::ReadingLikelihood(const std::vector<double>& displayed_g, const Scale& scale, double margin_below_g,
                                     double margin_above_g, int points)
    : size_(points)
{
  const auto readings = static_cast<double>(displayed_g.size());
  const double mean = std::accumulate(displayed_g.begin(), displayed_g.end(), 0.0) / readings;
  const double reach =
      0.5 * scale.readability_g + (readings > 1 ? 8.0 : 5.0) / std::sqrt(readings) * noise_of(displayed_g, scale);
  // Two displays far apart with little noise between them: the likelihood sits between them.
  const auto [lowest, highest] = std::minmax_element(displayed_g.begin(), displayed_g.end());
  const double spread = 0.5 * (*highest - *lowest);
  start_ = mean - reach - spread - margin_below_g;
  step_ = (mean + reach + spread + margin_above_g - start_) / (size_ - 1);
  per_step_ = 1.0 / step_;
  fill(displayed_g, scale);
}

void ReadingLikelihood::fill(const std::vector<double>& displayed_g, const Scale& scale)
{
  const double half_step = 0.5 * scale.readability_g;
  const double noise = std::max(noise_of(displayed_g, scale), 1e-3 * scale.readability_g);
  if (step_ > half_step + noise) {
    // Far narrower than a step of this grid (what follows smooths much more widely): all at its mean.
    const double mean =
        std::accumulate(displayed_g.begin(), displayed_g.end(), 0.0) / static_cast<double>(displayed_g.size());
    const double place = (mean - start_) * per_step_;
    const int i = std::clamp(static_cast<int>(place), 0, size_ - 2);
    value_[i] = 1.0 - (place - i);
    value_[i + 1] = place - i;
    return;
  }
  if (displayed_g.size() == 1) {
    fill_with_one(displayed_g[0], half_step, noise);
    return;
  }
  const auto readings = counted(displayed_g);
  std::array<std::array<double, most_points>, std::size(chi_square_share)> nodes{};
  std::array<double, std::size(chi_square_share)> height{};  // ln of the highest product of each node
  double best = -1e300;
  for (std::size_t k = 0; k < nodes.size(); ++k) {
    const double per_noise = std::sqrt(chi_square_share[k]) / noise;
    height[k] = multiply_readings(readings, half_step, per_noise, nodes[k]);
    best = std::max(best, height[k]);
  }
  for (std::size_t k = 0; k < nodes.size(); ++k) {
    const double factor = std::exp(height[k] - best);
    for (int i = 0; i < size_; ++i) {
      value_[i] += factor * nodes[k][i];
    }
  }
}

BILANCETTA_VECTORISED BILANCETTA_FLAT void ReadingLikelihood::fill_with_one(double displayed_g, double half_step,
                                                                            double noise) noexcept
{
  // Elsewhere no noise of the table reaches.
  const double reach = half_step - NormalTable::lowest * noise;
  const double middle = displayed_g - start_;
  const int from = std::max(static_cast<int>((middle - reach) * per_step_), 0);
  const int to = std::min(static_cast<int>((middle + reach) * per_step_) + 1, size_);
  const double per_noise = 1.0 / noise;
  const double half_width = half_step * per_noise;
  const double step = step_;
  const NormalTable& normal = normal_table();
  for (int i = from; i < to; ++i) {
    value_[i] = normal.about((middle - i * step) * per_noise, half_width);
  }
}

// The product over readings of the chance of each display, highest value 1; returns the logarithm of what it
// was divided by. Rescaled after each reading, so that many repeats do not underflow.
double ReadingLikelihood::multiply_readings(const std::vector<std::pair<double, int>>& readings, double half_step,
                                            double per_noise, std::array<double, most_points>& product) const
{
  constexpr double negligible = 1e-14;
  const NormalTable& normal = normal_table();
  product.fill(1.0);
  double divided = 0.0;
  for (const auto& [reading, times] : readings) {
    double highest = 0.0;
    for (int i = 0; i < size_; ++i) {
      if (product[i] < negligible) {
        continue;
      }
      const double off = reading - start_ - i * step_;
      const double p = normal.about(off * per_noise, half_step * per_noise);
      product[i] *= times <= 8 ? power(p, times) : std::pow(p, times);
      highest = std::max(highest, product[i]);
    }
    if (highest <= 0.0) {
      return -1e300;  // displays that this much noise cannot explain
    }
    divided += std::log(highest);
    for (double& value : product) {
      value /= highest;
    }
  }
  return divided;
}

// From the first point, in steps, four at a time.
BILANCETTA_INLINE std::array<double, ReadingLikelihood::most_points> ReadingLikelihood::integral_up_to_each() const
{
  constexpr int four = 4;
  assert(size_ % four == 0);
  constexpr Four zero{};
  std::array<double, most_points> integral;
  Four so_far{};
  Four before{0.0, 0.0, 0.0, -value_[0]};
  for (int i = 0; i < size_; i += four) {
    Four here;
    std::memcpy(&here, &value_[i], sizeof here);
    Four sum = 0.5 * (here + __builtin_shufflevector(before, here, 3, 4, 5, 6));
    sum += __builtin_shufflevector(zero, sum, 0, 4, 5, 6);
    sum += __builtin_shufflevector(zero, sum, 0, 1, 4, 5);
    sum += so_far;
    std::memcpy(&integral[i], &sum, sizeof sum);
    so_far = __builtin_shufflevector(sum, sum, 3, 3, 3, 3);
    before = here;
  }
  return integral;
}

BILANCETTA_VECTORISED void ReadingLikelihood::smooth_box(double half_width_g) noexcept
{
  const double reach = half_width_g * per_step_;
  constexpr double unseen = 0.05;  // of a grid step: adds less than a thousandth of its square to the variance
  if (reach < unseen) {
    return;
  }
  const std::array<double, most_points> integral = integral_up_to_each();
  // Integral of the piecewise-linear function up to i + shift, exactly, for every i at once.
  const auto up_to = [&](double shift) {
    std::array<double, most_points> all;
    const int whole = static_cast<int>(std::floor(shift));
    const double t = shift - whole;
    const int from = std::clamp(-whole, 0, size_);
    const int to = std::clamp(size_ - 1 - whole, from, size_);
    std::fill(all.begin(), all.begin() + from, 0.0);
    std::fill(all.begin() + to, all.begin() + size_, integral[size_ - 1]);
    for (int i = from; i < to; ++i) {
      const int at = i + whole;
      all[i] = integral[at] + t * (value_[at] + 0.5 * t * (value_[at + 1] - value_[at]));
    }
    return all;
  };
  const auto above = up_to(reach);
  const auto below = up_to(-reach);
  for (int i = 0; i < size_; ++i) {
    value_[i] = (above[i] - below[i]) / (2.0 * reach);
  }
}

void ReadingLikelihood::smooth_normal(double standard_deviation_g)
{
  for (int pass = 0; pass < 3; ++pass) {
    smooth_box(standard_deviation_g);
  }
}

// l'(x) = integral of l(x + b) exp(-b/m)/m db, exact for the piecewise-linear l, by recursion from the far end.
void ReadingLikelihood::smooth_excess(double mean_g)
{
  if (mean_g < 1e-3 * step_) {
    return;
  }
  const double q = std::exp(-step_ / mean_g);
  const double ramp = mean_g / step_ * (1.0 - q) - q;
  double carried = 0.0;
  double beyond = 0.0;
  for (int i = size_ - 1; i >= 0; --i) {
    const double here = value_[i];
    carried = q * carried + here * (1.0 - q) + (beyond - here) * ramp;
    beyond = here;
    value_[i] = carried;
  }
}

void ReadingLikelihood::smooth_shortfall(double mean_g)
{
  std::reverse(value_.begin(), value_.begin() + size_);
  smooth_excess(mean_g);
  std::reverse(value_.begin(), value_.begin() + size_);
}

BILANCETTA_VECTORISED void ReadingLikelihood::add_line(double first_g, double step_g, double weight,
                                                       std::vector<double>& out) const noexcept
{
  const double first = (first_g - start_) * per_step_;
  const double step = step_g * per_step_;
  const auto count = static_cast<double>(out.size());
  // Where the line enters the grid and where it leaves it.
  const double one_end = -first / step;
  const double other_end = (size_ - 1 - first) / step;
  const auto from = static_cast<int>(std::ceil(std::clamp(std::min(one_end, other_end), 0.0, count)));
  const auto to = static_cast<int>(std::ceil(std::clamp(std::max(one_end, other_end), 0.0, count)));
  const double* const value = value_.data();
  double* __restrict sums = out.data();
  for (int j = from; j < to; ++j) {
    const double place = first + step * j;
    const int i = static_cast<int>(place);
    sums[j] += weight * (value[i] + (place - i) * (value[i + 1] - value[i]));
  }
}

ReadingLikelihood::Support ReadingLikelihood::support() const
{
  const double least = 1e-9 * largest_of(value_.data(), static_cast<std::size_t>(size_));
  int low = 0;
  int high = size_ - 1;
  while (low < high && value_[low] < least) {
    ++low;
  }
  while (high > low && value_[high] < least) {
    --high;
  }
  return {start_ + std::max(low - 1, 0) * step_, start_ + std::min(high + 1, size_ - 1) * step_};
}

}  // namespace bilancetta
