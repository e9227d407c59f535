#pragma once

#include <cstdint>
#include <cstring>

#include "vectorised.hpp"

namespace bilancetta
{

/// Eight numbers side by side, a type of number for templates such as Hypothesis::evaluate. Single precision; exp and
/// log are good to 2e-7 (coefficients of expf and logf of the Cephes library, S. Moshier, from memory, and tested
/// against the C library).
struct Lanes {
  static constexpr int count = 8;

  Lanes() = default;
  BILANCETTA_INLINE Lanes(double all) : value(Eight{} + static_cast<float>(all)) {}  // NOLINT: as any number
  /// first, first + step, ...
  BILANCETTA_INLINE static Lanes even(double first, double step)
  {
    return from(static_cast<float>(first) + static_cast<float>(step) * Eight{0, 1, 2, 3, 4, 5, 6, 7});
  }
  BILANCETTA_INLINE static Lanes from(const Eight& value)
  {
    Lanes lanes;
    lanes.value = value;
    return lanes;
  }

  BILANCETTA_INLINE Lanes& operator+=(const Lanes& b) { return value += b.value, *this; }
  BILANCETTA_INLINE Lanes& operator*=(const Lanes& b) { return value *= b.value, *this; }
  BILANCETTA_INLINE Lanes& operator/=(const Lanes& b) { return value /= b.value, *this; }
  BILANCETTA_INLINE friend Lanes operator+(const Lanes& a, const Lanes& b) { return from(a.value + b.value); }
  BILANCETTA_INLINE friend Lanes operator-(const Lanes& a, const Lanes& b) { return from(a.value - b.value); }
  BILANCETTA_INLINE friend Lanes operator*(const Lanes& a, const Lanes& b) { return from(a.value * b.value); }
  BILANCETTA_INLINE friend Lanes operator/(const Lanes& a, const Lanes& b) { return from(a.value / b.value); }
  BILANCETTA_INLINE friend Lanes operator-(const Lanes& a) { return from(-a.value); }

  BILANCETTA_INLINE friend Lanes abs(const Lanes& a)
  {
    Bits bits;
    bits_of(a.value, bits);
    return of_bits(bits & 0x7fffffff);
  }
  BILANCETTA_INLINE friend Lanes sqrt(const Lanes& a)
  {
    Lanes root;
    for (int k = 0; k < count; ++k) {
      root.value[k] = __builtin_sqrtf(a.value[k]);
    }
    return root;
  }
  BILANCETTA_INLINE friend Lanes exp(const Lanes& a)
  {
    constexpr float most = 88.0F;
    constexpr float least = -87.0F;
    constexpr float per_ln2 = 1.44269504F;
    constexpr float ln2 = 0.693359375F;
    constexpr float ln2_beyond = -2.12194440e-4F;
    constexpr float rounds = 12582912.0F;  // added, it leaves whole numbers in the lowest bits
    Eight x = a.value > most ? Eight{} + most : a.value;
    x = x < least ? Eight{} + least : x;
    const Eight raised = x * per_ln2 + rounds;
    const Eight power = raised - rounds;
    x = x - power * ln2 - power * ln2_beyond;
    Eight sum = Eight{} + 1.9875691500e-4F;
    sum = sum * x + 1.3981999507e-3F;
    sum = sum * x + 8.3334519073e-3F;
    sum = sum * x + 4.1665795894e-2F;
    sum = sum * x + 1.6666665459e-1F;
    sum = sum * x + 5.0000001201e-1F;
    sum = sum * x * x + x + 1.0F;
    Bits bits;
    Bits shift;
    bits_of(sum, bits);
    bits_of(raised, shift);
    return of_bits(bits + (shift << 23));
  }
  /// Of positive numbers.
  BILANCETTA_INLINE friend Lanes log(const Lanes& a)
  {
    constexpr float ln2 = 0.693359375F;
    constexpr float ln2_beyond = -2.12194440e-4F;
    Bits bits;
    bits_of(a.value, bits);
    // From root a half to root two.
    const Eight half_to_one = of_bits((bits & 0x007fffff) | 0x3f000000).value;
    const auto low = half_to_one < 0.707106781F;
    const Eight power = __builtin_convertvector((bits >> 23) - 126 + low, Eight);  // true is -1
    const Eight x = (low ? half_to_one + half_to_one : half_to_one) - 1.0F;
    Eight sum = Eight{} + 7.0376836292e-2F;
    sum = sum * x - 1.1514610310e-1F;
    sum = sum * x + 1.1676998740e-1F;
    sum = sum * x - 1.2420140846e-1F;
    sum = sum * x + 1.4249322787e-1F;
    sum = sum * x - 1.6668057665e-1F;
    sum = sum * x + 2.0000714765e-1F;
    sum = sum * x - 2.4999993993e-1F;
    sum = sum * x + 3.3333331174e-1F;
    const Eight square = x * x;
    sum = sum * x * square + power * ln2_beyond - 0.5F * square;
    return from(x + sum + power * ln2);
  }

  Eight value;

 private:
  using Bits [[gnu::vector_size(sizeof(Eight))]] = std::int32_t;
  BILANCETTA_INLINE static void bits_of(const Eight& value, Bits& into) { std::memcpy(&into, &value, sizeof into); }
  BILANCETTA_INLINE static Lanes of_bits(const Bits& bits)
  {
    Lanes lanes;
    std::memcpy(&lanes, &bits, sizeof bits);
    return lanes;
  }
};

}  // namespace bilancetta
