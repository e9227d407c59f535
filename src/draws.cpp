#include "draws.hpp"

#include <algorithm>
#include <cmath>

namespace bilancetta
{

namespace
{

// Inverse of the standard normal distribution: Acklam's rational approximation (relative error 1.2e-9).
double inverse_normal(double p)
{
  constexpr double a[] = {-3.969683028665376e+01, 2.209460984245205e+02,  -2.759285104469687e+02,
                          1.383577518672690e+02,  -3.066479806614716e+01, 2.506628277459239e+00};
  constexpr double b[] = {-5.447609879822406e+01, 1.615858368580409e+02, -1.556989798598866e+02, 6.680131188771972e+01,
                          -1.328068155288572e+01};
  constexpr double c[] = {-7.784894002430293e-03, -3.223964580411365e-01, -2.400758277161838e+00,
                          -2.549732539343734e+00, 4.374664141464968e+00,  2.938163982698783e+00};
  constexpr double d[] = {7.784695709041462e-03, 3.224671290700398e-01, 2.445134137142996e+00, 3.754408661907416e+00};
  constexpr double low = 0.02425;
  if (p < low || p > 1.0 - low) {
    const double q = std::sqrt(-2.0 * std::log(std::min(p, 1.0 - p)));
    const double tail = (((((c[0] * q + c[1]) * q + c[2]) * q + c[3]) * q + c[4]) * q + c[5]) /
                        ((((d[0] * q + d[1]) * q + d[2]) * q + d[3]) * q + 1.0);
    return p < low ? tail : -tail;
  }
  const double q = p - 0.5;
  const double r = q * q;
  return (((((a[0] * r + a[1]) * r + a[2]) * r + a[3]) * r + a[4]) * r + a[5]) * q /
         (((((b[0] * r + b[1]) * r + b[2]) * r + b[3]) * r + b[4]) * r + 1.0);
}

// The generalised golden ratio: the positive root of x^(d+1) = x + 1.
double golden_ratio(int dimensions)
{
  double x = 1.5;
  for (int i = 0; i < 40; ++i) {
    x = std::pow(1.0 + x, 1.0 / (dimensions + 1));
  }
  return x;
}

int named_draws(int dimensions)
{
  return dimensions <= 2 ? 1024 : 4096;
}

}  // namespace

NormalBank::NormalBank(int draws, int dimensions)
    : draws_(draws), dimensions_(dimensions), values_(static_cast<std::size_t>(draws) * dimensions)
{
  std::vector<double> step(dimensions);
  for (int k = 0; k < dimensions; ++k) {
    step[k] = std::pow(golden_ratio(dimensions), -(k + 1.0));
  }
  for (int i = 0; i < draws; ++i) {
    for (int k = 0; k < dimensions; ++k) {
      double whole = 0.0;
      const double u = std::modf(0.5 + step[k] * (i + 1.0), &whole);
      values_[static_cast<std::size_t>(i) * dimensions + k] = inverse_normal(std::clamp(u, 1e-9, 1.0 - 1e-9));
    }
  }
}

const NormalBank& bank_for(const Hypothesis& hypothesis)
{
  static const std::vector<NormalBank> named = [] {
    std::vector<NormalBank> banks;
    for (int dimensions = 1; dimensions <= max_variables; ++dimensions) {
      banks.emplace_back(named_draws(dimensions), dimensions);
    }
    return banks;
  }();
  static const NormalBank open(49152, open_mix_variables);
  return hypothesis.kind == Kind::open_mix ? open : named[std::max(hypothesis.variables, 1) - 1];
}

int draws_of(const Hypothesis& hypothesis)
{
  return bank_for(hypothesis).draws();
}

double widening_of(const Hypothesis& hypothesis)
{
  if (hypothesis.kind == Kind::open_mix) {
    return 1.2;
  }
  return hypothesis.variables <= 2 ? 1.6 : hypothesis.variables <= 4 ? 1.35 : 1.2;
}

const std::vector<float>& draw_weights_of(const Hypothesis& hypothesis)
{
  const auto weights = [](const Hypothesis& h) {
    const NormalBank& bank = bank_for(h);
    const int variables = h.variables;
    const double widening = widening_of(h);
    const double height = std::pow(widening, variables);
    std::vector<float> all(draws_of(h));
    for (int i = 0; i < static_cast<int>(all.size()); ++i) {
      double squares = 0.0;
      for (int k = 0; k < variables; ++k) {
        squares += bank.at(i)[k] * bank.at(i)[k];
      }
      // N(z; 0, 1) / N(z; 0, widening) with z = widening times the bank's value.
      all[i] = static_cast<float>(height * std::exp(-0.5 * squares * (widening * widening - 1.0)));
    }
    return all;
  };
  const auto up_to = [&weights](Kind kind, int variables) {
    std::vector<std::vector<float>> all;
    Hypothesis h;
    h.kind = kind;
    for (h.variables = 0; h.variables <= variables; ++h.variables) {
      all.push_back(weights(h));
    }
    return all;
  };
  static const auto named = up_to(Kind::solid, max_variables);
  static const auto open = up_to(Kind::open_mix, open_mix_variables);
  return (hypothesis.kind == Kind::open_mix ? open : named)[hypothesis.variables];
}

Outcome<double> outcome_of_draw(const Hypothesis& hypothesis, int draw)
{
  const double* bank = bank_for(hypothesis).at(draw);
  const double widening = widening_of(hypothesis);
  double z[max_variables];
  for (int k = 0; k < hypothesis.variables; ++k) {
    z[k] = widening * bank[k];
  }
  return hypothesis.evaluate(z);
}

GridFunction smoothed(const GridFunction& function, double relative_sd)
{
  constexpr double h = density_grid::spacing;
  const double sd = std::sqrt(std::max(relative_sd * relative_sd - h * h / 3.0, 0.04 * h * h)) / h;
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
