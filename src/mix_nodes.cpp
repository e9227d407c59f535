#include "mix_nodes.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <limits>
#include <utility>

#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

constexpr std::size_t count = MixNodes::together;
constexpr std::size_t factors_at_once = 16;  // of least_likelihood to its inverse: within reach of a double

// Products of many factors, exponents of two kept apart, for nodes side by side.
struct Products {
  std::array<double, count> value;
  std::array<std::int64_t, count> exponent;
};

// Takes the exponents out of positive normal numbers.
BILANCETTA_INLINE void take_exponents(Products& products)
{
  constexpr std::int64_t one = std::bit_cast<std::int64_t>(1.0);
  constexpr std::int64_t fraction = (std::int64_t{1} << 52) - 1;
  for (std::size_t v = 0; v < count; ++v) {
    const auto bits = std::bit_cast<std::int64_t>(products.value[v]);
    products.exponent[v] += static_cast<std::int64_t>(static_cast<std::uint64_t>(bits) >> 52U) - 1023;
    products.value[v] = std::bit_cast<double>((bits & fraction) | one);
  }
}

BILANCETTA_INLINE void multiply(const std::vector<MixNodes::Factor>& factors, const float* likelihood,
                                Products& products)
{
  products.value.fill(1.0);
  products.exponent.fill(0);
  for (std::size_t i = 0; i < factors.size(); ++i) {
    const double plus = factors[i].plus;
    const double by = factors[i].by;
    const float* of_teacher = likelihood + factors[i].teacher * count;
    for (std::size_t v = 0; v < count; ++v) {
      products.value[v] *= plus + by * static_cast<double>(of_teacher[v]);
    }
    if (i % factors_at_once == factors_at_once - 1 || i + 1 == factors.size()) {
      take_exponents(products);
    }
  }
}

BILANCETTA_VECTORISED void multiply_side_by_side(const std::vector<MixNodes::Factor>& factors, const float* likelihood,
                                                 double* value, std::int64_t* exponent) noexcept
{
  Products products;
  multiply(factors, likelihood, products);
  std::copy(products.value.begin(), products.value.end(), value);
  std::copy(products.exponent.begin(), products.exponent.end(), exponent);
}

}  // namespace

MixNodes::MixNodes(std::vector<double> chance, std::size_t teachers, double weight)
    : chance_(std::move(chance)),
      teachers_(teachers),
      weight_(weight),
      likelihood_((chance_.size() + together - 1) / together * together * teachers, 1.0F),
      weighed_(likelihood_)
{
}

void MixNodes::set(std::size_t teacher, std::size_t node, double likelihood)
{
  const float least = std::max(static_cast<float>(likelihood), least_likelihood);
  likelihood_[place_of(teacher, node)] = least;
  weighed_[place_of(teacher, node)] = static_cast<float>(std::pow(least, weight_));
}

double MixNodes::expected_likelihood(std::size_t teacher) const
{
  double sum = 0.0;
  for (std::size_t v = 0; v < size(); ++v) {
    sum += chance_[v] * likelihood(teacher, v);
  }
  return sum;
}

void MixNodes::find_odds(const std::vector<Factor>& factors, std::vector<double>& odds) const
{
  constexpr double negligible = -64.0;  // a power of two: far below what any one teacher may have made unlikely
  const double ln_2 = std::log(2.0);
  const std::size_t blocks = (size() + together - 1) / together;
  odds.resize(blocks * together);
  std::vector<std::int64_t> exponent(blocks * together);
  for (std::size_t block = 0; block < blocks; ++block) {
    multiply_side_by_side(factors, likelihood_.data() + block * teachers_ * together, odds.data() + block * together,
                          exponent.data() + block * together);
  }
  odds.resize(size());
  std::int64_t highest = std::numeric_limits<std::int64_t>::min();
  for (std::size_t v = 0; v < size(); ++v) {
    highest = chance_[v] > 0.0 ? std::max(highest, exponent[v]) : highest;
  }
  for (std::size_t v = 0; v < size(); ++v) {
    const double below = weight_ * static_cast<double>(exponent[v] - highest);
    odds[v] = chance_[v] > 0.0 && below > negligible ? chance_[v] * std::exp(weight_ * std::log(odds[v]) + ln_2 * below)
                                                     : 0.0;
  }
}

}  // namespace bilancetta
