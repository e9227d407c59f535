#include "reading_likelihood.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

namespace bilancetta
{

namespace
{

// Standard normal distribution by table and linear interpolation: within 3e-7.
class NormalTable
{
 public:
  NormalTable()
  {
    for (int i = 0; i <= points; ++i) {
      value_[i] = 0.5 * std::erfc(-(low + i / per_unit) * M_SQRT1_2);
    }
  }
  // For x at most 0, where small values keep their digits.
  [[nodiscard]] double lower_tail(double x) const
  {
    const double place = std::max(x - low, 0.0) * per_unit;
    const int i = std::min(static_cast<int>(place), points - 1);
    return value_[i] + (place - i) * (value_[i + 1] - value_[i]);
  }
  [[nodiscard]] double between(double below, double above) const
  {
    if (below > 0.0) {
      return lower_tail(-below) - lower_tail(-above);
    }
    return above <= 0.0 ? lower_tail(above) - lower_tail(below) : 1.0 - lower_tail(-above) - lower_tail(below);
  }

 private:
  static constexpr double low = -9.0;
  static constexpr double per_unit = 512.0;
  static constexpr int points = 9 * 512;
  std::array<double, points + 1> value_{};
};

const NormalTable& normal()
{
  static const NormalTable table;
  return table;
}

// Seven equally likely values of chi-square(9)/9 (its quantiles at 1/14, 3/14, ...): a scale's stated
// repeatability is worth about nine degrees of freedom (judgement).
constexpr double chi_square_share[] = {0.4139, 0.6146, 0.7717, 0.9270, 1.1020, 1.3314, 1.7543};

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

}  // namespace

ReadingLikelihood::ReadingLikelihood(const std::vector<double>& displayed_g, const Scale& scale, double margin_below_g,
                                     double margin_above_g)
{
  const auto readings = static_cast<double>(displayed_g.size());
  const double mean = std::accumulate(displayed_g.begin(), displayed_g.end(), 0.0) / readings;
  const double reach =
      0.5 * scale.readability_g + (readings > 1 ? 8.0 : 5.0) / std::sqrt(readings) * scale.repeatability_g;
  // Two displays far apart with little noise between them: the likelihood sits between them.
  const auto [lowest, highest] = std::minmax_element(displayed_g.begin(), displayed_g.end());
  const double spread = 0.5 * (*highest - *lowest);
  start_ = mean - reach - spread - margin_below_g;
  step_ = (mean + reach + spread + margin_above_g - start_) / (size - 1);
  per_step_ = 1.0 / step_;
  fill(displayed_g, scale);
}

void ReadingLikelihood::fill(const std::vector<double>& displayed_g, const Scale& scale)
{
  const double half_step = 0.5 * scale.readability_g;
  const double noise = std::max(scale.repeatability_g, 1e-3 * scale.readability_g);
  if (displayed_g.size() == 1) {
    for (int i = 0; i < size; ++i) {
      const double off = displayed_g[0] - start_ - i * step_;
      value_[i] = normal().between((off - half_step) / noise, (off + half_step) / noise);
    }
    return;
  }
  const auto readings = counted(displayed_g);
  std::array<double, size> one{};
  std::vector<double> logs;
  std::vector<std::array<double, size>> nodes;
  for (const double share : chi_square_share) {
    const double per_noise = std::sqrt(share) / noise;
    one.fill(0.0);
    for (const auto& [reading, times] : readings) {
      for (int i = 0; i < size; ++i) {
        const double off = reading - start_ - i * step_;
        const double p = normal().between((off - half_step) * per_noise, (off + half_step) * per_noise);
        one[i] += times * std::log(std::max(p, 1e-300));
      }
    }
    nodes.push_back(one);
    logs.push_back(*std::max_element(one.begin(), one.end()));
  }
  const double best = *std::max_element(logs.begin(), logs.end());
  for (const auto& node : nodes) {
    for (int i = 0; i < size; ++i) {
      value_[i] += std::exp(node[i] - best);
    }
  }
}

void ReadingLikelihood::smooth_box(double half_width_g)
{
  const double reach = half_width_g * per_step_;
  constexpr double unseen = 0.05;  // of a grid step: adds less than a thousandth of its square to the variance
  if (reach < unseen) {
    return;
  }
  std::array<double, size> integral{};
  for (int i = 1; i < size; ++i) {
    integral[i] = integral[i - 1] + 0.5 * (value_[i - 1] + value_[i]);
  }
  // Integral of the piecewise-linear function up to any place, exactly.
  const auto up_to = [&](double place) {
    if (place <= 0.0) {
      return 0.0;
    }
    if (place >= size - 1) {
      return integral[size - 1];
    }
    const int i = static_cast<int>(place);
    const double t = place - i;
    return integral[i] + t * (value_[i] + 0.5 * t * (value_[i + 1] - value_[i]));
  };
  std::array<double, size> smoothed{};
  for (int i = 0; i < size; ++i) {
    smoothed[i] = (up_to(i + reach) - up_to(i - reach)) / (2.0 * reach);
  }
  value_ = smoothed;
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
  for (int i = size - 1; i >= 0; --i) {
    const double here = value_[i];
    carried = q * carried + here * (1.0 - q) + (beyond - here) * ramp;
    beyond = here;
    value_[i] = carried;
  }
}

void ReadingLikelihood::smooth_shortfall(double mean_g)
{
  std::reverse(value_.begin(), value_.end());
  smooth_excess(mean_g);
  std::reverse(value_.begin(), value_.end());
}

ReadingLikelihood::Support ReadingLikelihood::support() const
{
  const double least = 1e-9 * *std::max_element(value_.begin(), value_.end());
  int low = 0;
  int high = size - 1;
  while (low < high && value_[low] < least) {
    ++low;
  }
  while (high > low && value_[high] < least) {
    --high;
  }
  return {start_ + std::max(low - 1, 0) * step_, start_ + std::min(high + 1, size - 1) * step_};
}

}  // namespace bilancetta
