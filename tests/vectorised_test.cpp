// Sums, the largest and those above a threshold, against the standard library, for every count of up to some blocks.

#include "vectorised.hpp"

#include <algorithm>
#include <numeric>
#include <random>
#include <vector>

#include "support.hpp"

using namespace bilancetta;

namespace
{

constexpr std::size_t most = 40;  // two blocks of the widest and a part of one

std::vector<double> random_values(std::mt19937& random)
{
  std::uniform_real_distribution<double> even(0.0, 1.0);
  std::vector<double> values(most);
  std::generate(values.begin(), values.end(), [&] { return even(random); });
  return values;
}

}  // namespace

TEST_CASE("Sums and the largest of any count of values are those of the standard library")
{
  std::mt19937 random(11);
  const std::vector<double> a = random_values(random);
  const std::vector<double> b = random_values(random);
  for (std::size_t count = 1; count <= most; ++count) {
    const auto end = a.begin() + static_cast<std::ptrdiff_t>(count);
    CHECK(sum_of(a.data(), count) == Approx(std::accumulate(a.begin(), end, 0.0)));
    CHECK(dot_of(a.data(), b.data(), count) == Approx(std::inner_product(a.begin(), end, b.begin(), 0.0)));
    CHECK(largest_of(a.data(), count) == *std::max_element(a.begin(), end));
  }
}

TEST_CASE("Every value above a threshold is found once and in order, wherever it stands")
{
  std::mt19937 random(12);
  for (const double least : {0.2, 0.9, 0.97, 1.0}) {
    const std::vector<double> values = random_values(random);
    for (std::size_t count = 0; count <= most; ++count) {
      std::vector<std::size_t> expected;
      for (std::size_t i = 0; i < count; ++i) {
        if (values[i] > least) {
          expected.push_back(i);
        }
      }
      std::vector<std::size_t> found;
      for_each_above(values.data(), count, least, [&](std::size_t i) { found.push_back(i); });
      CHECK(found == expected);
    }
  }
}

TEST_CASE("Whole numbers of two bytes become the same numbers in a register, and come back")
{
  std::vector<std::uint16_t> all(1U << 16U);
  std::iota(all.begin(), all.end(), std::uint16_t{0});
  for (std::size_t from = 0; from < all.size(); from += 8) {
    Eight numbers;
    load(&all[from], numbers);
    std::array<std::uint16_t, 8> back{};
    store_rounded(numbers, back.data());
    for (std::size_t k = 0; k < back.size(); ++k) {
      REQUIRE(numbers[k] == static_cast<float>(from + k));
      REQUIRE(back[k] == from + k);
    }
  }
}
