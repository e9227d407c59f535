#pragma once

#include <array>
#include <cmath>

namespace bilancetta
{

/// Entropy in bits of masses that need not sum to 1; 0 if there is none. In single precision, which is half the work
/// and good to a millionth of a bit.
inline double entropy_bits(const std::array<double, 4>& mass)
{
  double total = 0.0;
  for (const double m : mass) {
    total += m;
  }
  const double per_total = total > 1e-300 ? 1.0 / total : 0.0;
  double bits = 0.0;
  for (const double m : mass) {
    const auto share = static_cast<float>(m * per_total);
    bits -= share > 0.0F ? share * std::log2(share) : 0.0F;
  }
  return bits;
}

/// What a step is worth for its effort of 1 to 8 (judgement).
inline double value_for_effort(double bits, int effort)
{
  return bits / (0.5 + 0.5 * effort);
}

}  // namespace bilancetta
