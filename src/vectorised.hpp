#pragma once

#include <array>
#include <cstddef>

// Marks a function whose loops gain from wider registers: compiled twice where the compiler can choose at start-up. The
// sums are written so that both give the same digits.
#if defined(__GNUC__) && !defined(__clang__) && defined(__x86_64__) && defined(__linux__) && \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define BILANCETTA_VECTORISED __attribute__((target_clones("avx2", "default")))
#else
#define BILANCETTA_VECTORISED
#endif

namespace bilancetta
{

/// Several partial sums: one alone would wait for each addition.
inline double sum_of(const double* values, std::size_t count)
{
  std::array<double, 8> part{};
  std::size_t i = 0;
  for (; i + 8 <= count; i += 8) {
    for (std::size_t k = 0; k < 8; ++k) {
      part[k] += values[i + k];
    }
  }
  for (std::size_t k = 0; i < count; ++i, ++k) {
    part[k] += values[i];
  }
  return ((part[0] + part[4]) + (part[2] + part[6])) + ((part[1] + part[5]) + (part[3] + part[7]));
}

/// Sum of products, in several partial sums likewise; single precision holds 1e-6 of what is summed here.
inline float dot_of(const float* a, const float* b, std::size_t count)
{
  std::array<float, 8> part{};
  std::size_t i = 0;
  for (; i + 8 <= count; i += 8) {
    for (std::size_t k = 0; k < 8; ++k) {
      part[k] += a[i + k] * b[i + k];
    }
  }
  for (std::size_t k = 0; i < count; ++i, ++k) {
    part[k] += a[i] * b[i];
  }
  return ((part[0] + part[4]) + (part[2] + part[6])) + ((part[1] + part[5]) + (part[3] + part[7]));
}

}  // namespace bilancetta
