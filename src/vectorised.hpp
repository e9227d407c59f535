#pragma once

#include <algorithm>
#include <array>
#include <bit>
#include <cstddef>
#include <cstdint>
#include <cstring>

// Marks a function whose loops gain from wider registers: compiled twice where the compiler can choose at start-up. The
// sums are written so that both give the same digits. Such a function is noexcept, and asks for no memory: GCC (12 at
// least) takes every call of one from its own source as one that cannot throw, so that an exception would end the
// program.
#if defined(__GNUC__) && !defined(__clang__) && defined(__x86_64__) && defined(__linux__) && \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define BILANCETTA_VECTORISED __attribute__((target_clones("avx2", "default")))
#else
#define BILANCETTA_VECTORISED
#endif

// Marks what such functions share, which is to be compiled as each of them is.
#define BILANCETTA_INLINE [[gnu::always_inline]] inline

// Marks such a function where it is to take in all that it calls.
#define BILANCETTA_FLAT [[gnu::flatten]]

namespace bilancetta
{

/// Numbers in one register, or in two where those are narrower (an extension of GCC and Clang).
using Eight [[gnu::vector_size(8 * sizeof(float))]] = float;
using Four [[gnu::vector_size(4 * sizeof(double))]] = double;
BILANCETTA_INLINE void load(const float* values, Eight& into)
{
  std::memcpy(&into, values, sizeof into);
}
BILANCETTA_INLINE void load(const std::uint16_t* values, Eight& into)
{
  using Short [[gnu::vector_size(8 * sizeof(std::uint16_t))]] = std::uint16_t;
  using Long [[gnu::vector_size(8 * sizeof(std::int32_t))]] = std::int32_t;
  Short numbers;
  std::memcpy(&numbers, values, sizeof numbers);
  Long whole;
  if constexpr (std::endian::native == std::endian::little) {
    // A zero behind each makes it long in one step; GCC 12 needs four for the conversion.
    const auto widened = __builtin_shufflevector(numbers, Short{}, 0, 8, 1, 8, 2, 8, 3, 8, 4, 8, 5, 8, 6, 8, 7, 8);
    std::memcpy(&whole, &widened, sizeof whole);
  } else {
    whole = __builtin_convertvector(numbers, Long);
  }
  into = __builtin_convertvector(whole, Eight);
}
BILANCETTA_INLINE void store(const Eight& from, float* values)
{
  std::memcpy(values, &from, sizeof from);
}
/// Of numbers from 0 to 65535.
BILANCETTA_INLINE void store_rounded(const Eight& from, std::uint16_t* values)
{
  using Short [[gnu::vector_size(8 * sizeof(std::uint16_t))]] = std::uint16_t;
  using Long [[gnu::vector_size(8 * sizeof(std::int32_t))]] = std::int32_t;
  const Short numbers = __builtin_convertvector(__builtin_convertvector(from + 0.5F, Long), Short);
  std::memcpy(values, &numbers, sizeof numbers);
}

/// Several partial sums: one alone would wait for each addition.
template <typename Number>
BILANCETTA_INLINE Number sum_of(const Number* values, std::size_t count)
{
  std::array<Number, 8> part{};
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

BILANCETTA_INLINE float sum_of(const Eight& values)
{
  std::array<float, 8> each{};
  store(values, each.data());
  return sum_of(each.data(), each.size());
}

/// The largest, likewise; 0 if none is larger.
BILANCETTA_INLINE double largest_of(const double* values, std::size_t count)
{
  std::array<double, 8> part{};
  std::size_t i = 0;
  for (; i + 8 <= count; i += 8) {
    for (std::size_t k = 0; k < 8; ++k) {
      part[k] = values[i + k] > part[k] ? values[i + k] : part[k];
    }
  }
  for (std::size_t k = 0; i < count; ++i, ++k) {
    part[k] = values[i] > part[k] ? values[i] : part[k];
  }
  return *std::max_element(part.begin(), part.end());
}

/// Calls `use(i)` for each value above this one, in order. Most are not: blocks that hold none are passed over.
template <typename Use>
BILANCETTA_INLINE void for_each_above(const double* values, std::size_t count, double least, Use use)
{
  constexpr std::size_t block = 8;
  const auto some_above = [&](const double* of) {
    Four first;
    Four second;
    std::memcpy(&first, of, sizeof first);
    std::memcpy(&second, of + block / 2, sizeof second);
    const auto above = (first > least) | (second > least);
    return (above[0] | above[1] | above[2] | above[3]) != 0;
  };
  for (std::size_t from = 0; from < count; from += block) {
    const std::size_t end = std::min(from + block, count);
    if (end == from + block && !some_above(values + from)) {
      continue;
    }
    for (std::size_t i = from; i < end; ++i) {
      if (values[i] > least) {
        use(i);
      }
    }
  }
}

/// Sum of products, in several partial sums likewise; single precision holds 1e-6 of what is summed here.
template <typename Number>
BILANCETTA_INLINE Number dot_of(const Number* a, const Number* b, std::size_t count)
{
  std::array<Number, 8> part{};
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
