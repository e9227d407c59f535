#include "normal_bank.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <mutex>
#include <optional>

namespace bilancetta
{

namespace
{

// The generalised golden ratio: the positive root of x^(d+1) = x + 1.
double golden_ratio(int dimensions)
{
  double x = 1.5;
  for (int i = 0; i < 40; ++i) {
    x = std::pow(1.0 + x, 1.0 / (dimensions + 1));
  }
  return x;
}

}  // namespace

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

const NormalBank& bank_for(Kind kind, int variables)
{
  struct Slot {
    std::once_flag once;
    std::optional<NormalBank> bank;
  };
  static std::array<Slot, max_variables + 1> slots;  // the first for the open mix
  const bool open = kind == Kind::open_mix;
  Slot& slot = slots[open ? 0 : std::max(variables, 1)];
  std::call_once(slot.once, [&] {
    slot.bank.emplace(open ? banked_for_open_mix : banked, open ? open_mix_variables : std::max(variables, 1));
  });
  return *slot.bank;
}

}  // namespace bilancetta
