#include "reading_likelihood.hpp"

#include <algorithm>
#include <cmath>

namespace bilancetta
{

namespace
{

double normal_cdf(double x)
{
  return 0.5 * std::erfc(-x * M_SQRT1_2);
}

// Seven equally likely values of chi-square(9)/9 (its quantiles at 1/14, 3/14, ...): a scale's stated
// repeatability is worth about nine degrees of freedom (judgement).
constexpr double chi_square_share[] = {0.4139, 0.6146, 0.7717, 0.9270, 1.1020, 1.3314, 1.7543};

double log_likelihood(const std::vector<double>& displayed, double value, double half_step, double deviation)
{
  double total = 0.0;
  for (const double reading : displayed) {
    const double below = (reading - half_step - value) / deviation;
    const double above = (reading + half_step - value) / deviation;
    // On the far side the difference of two cumulative values is taken in the tail that keeps its digits.
    const double p = below > 0 ? normal_cdf(-below) - normal_cdf(-above) : normal_cdf(above) - normal_cdf(below);
    total += std::log(std::max(p, 1e-300));
  }
  return total;
}

}  // namespace

ReadingLikelihood::ReadingLikelihood(const std::vector<double>& displayed_g, const Scale& scale, double margin_below_g,
                                     double margin_above_g)
    : value_(size)
{
  const auto [lowest, highest] = std::minmax_element(displayed_g.begin(), displayed_g.end());
  const double reach = 0.5 * scale.readability_g + (displayed_g.size() > 1 ? 7.0 : 5.0) * scale.repeatability_g;
  start_ = *lowest - reach - margin_below_g;
  step_ = (*highest + reach + margin_above_g - start_) / (size - 1);
  per_step_ = 1.0 / step_;
  fill(displayed_g, scale);
}

void ReadingLikelihood::fill(const std::vector<double>& displayed_g, const Scale& scale)
{
  const double half_step = 0.5 * scale.readability_g;
  const double noise = std::max(scale.repeatability_g, 1e-3 * scale.readability_g);
  if (displayed_g.size() == 1) {
    for (int i = 0; i < size; ++i) {
      value_[i] = std::exp(log_likelihood(displayed_g, start_ + i * step_, half_step, noise));
    }
    return;
  }
  std::vector<double> logs;
  double best = -1e300;
  for (const double share : chi_square_share) {
    for (int i = 0; i < size; ++i) {
      logs.push_back(log_likelihood(displayed_g, start_ + i * step_, half_step, noise / std::sqrt(share)));
      best = std::max(best, logs.back());
    }
  }
  std::fill(value_.begin(), value_.end(), 0.0);
  for (std::size_t k = 0; k < logs.size(); ++k) {
    value_[k % size] += std::exp(logs[k] - best);
  }
}

void ReadingLikelihood::smooth_box(double half_width_g)
{
  const double reach = half_width_g * per_step_;
  if (reach < 1e-3) {
    return;
  }
  std::vector<double> integral(size, 0.0);
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
  std::vector<double> smoothed(size);
  for (int i = 0; i < size; ++i) {
    smoothed[i] = (up_to(i + reach) - up_to(i - reach)) / (2.0 * reach);
  }
  value_.swap(smoothed);
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
