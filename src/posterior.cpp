#include "bilancetta/posterior.hpp"

#include <algorithm>
#include <bit>
#include <cassert>
#include <cstdint>
#include <functional>
#include <numeric>

#include "vectorised.hpp"

namespace bilancetta
{

LevelWeights evidence_weights_of(const DensityCurve& curve)
{
  constexpr int most_nodes = 72;
  constexpr double widest = 1.0 / 28.0;
  return weights_on_level(curve, most_nodes, 0, widest);
}

namespace
{

BILANCETTA_VECTORISED void multiply(const std::vector<double>& prior, const std::vector<double>& evidence,
                                    const std::vector<double>& test_likelihood, std::vector<double>& posterior) noexcept
{
  for (std::size_t i = 0; i < prior.size(); ++i) {
    posterior[i] = prior[i] * evidence[i] * test_likelihood[i];
  }
  const double total = sum_of(posterior.data(), posterior.size());
  const double factor = total > 0.0 ? 1.0 / total : 0.0;
  for (double& value : posterior) {
    value *= factor;
  }
}

}  // namespace

std::vector<double> posterior_of(const std::vector<double>& prior, const std::vector<double>& evidence,
                                 const std::vector<double>& test_likelihood)
{
  assert(prior.size() == evidence.size() && prior.size() == test_likelihood.size());
  std::vector<double> posterior(prior.size());
  multiply(prior, evidence, test_likelihood, posterior);
  return posterior;
}

namespace
{

// A member and its probability in one number, for sorting: probability first, then the earlier member.
using Ranked = std::uint64_t;

Ranked ranked(double probability, std::size_t member)
{
  return (Ranked{std::bit_cast<std::uint32_t>(static_cast<float>(probability))} << 32U) |
         ~static_cast<std::uint32_t>(member);
}

int index_of(Ranked ranked)
{
  return static_cast<int>(~static_cast<std::uint32_t>(ranked));
}

// Puts the members more probable than that into `kept`, in their order, and returns how many they are. Most have hardly
// any probability.
BILANCETTA_VECTORISED std::size_t find_above(const std::vector<double>& probability, double least,
                                             std::vector<Ranked>& kept) noexcept
{
  std::size_t count = 0;
  for_each_above(probability.data(), probability.size(), least,
                 [&](std::size_t i) { kept[count++] = ranked(probability[i], i); });
  return count;
}

std::vector<Ranked> above(const std::vector<double>& probability, double least)
{
  std::vector<Ranked> kept(probability.size());
  kept.resize(find_above(probability, least, kept));
  return kept;
}

// Members that cover that much, and some more, in their order, and what they cover.
struct Covering {
  std::vector<Ranked> members;
  double total = 0.0;
};

Covering covering(const std::vector<double>& posterior, double coverage)
{
  // Nearly always the first threshold keeps enough.
  Covering kept;
  for (double least = 0.01 * (1.0 - coverage);
       kept.total < coverage && least > 1e-30 && kept.members.size() < posterior.size(); least *= 0.01) {
    kept.members = above(posterior, least);
    kept.total = std::accumulate(kept.members.begin(), kept.members.end(), 0.0,
                                 [&](double sum, Ranked r) { return sum + posterior[index_of(r)]; });
  }
  return kept;
}

// Powers of two below 1 that a probability may lie between; the last holds all that is less.
constexpr int powers = 64;
int power_of(Ranked ranked)
{
  constexpr int of_one = 127;
  return std::clamp(of_one - static_cast<int>(ranked >> 55U), 0, powers - 1);
}

}  // namespace

std::vector<int> fewest_covering(const std::vector<double>& posterior, double coverage)
{
  Covering kept = covering(posterior, coverage);
  std::array<double, powers> mass{};
  for (const Ranked r : kept.members) {
    mass[power_of(r)] += posterior[index_of(r)];
  }
  // Whole powers of two can be spared from the least on, then some of the next, least first.
  double spare = kept.total - coverage;
  int last = powers - 1;
  while (last > 0 && spare >= mass[last]) {
    spare -= mass[last--];
  }
  std::erase_if(kept.members, [&](Ranked r) { return power_of(r) > last; });
  const auto within =
      std::partition(kept.members.begin(), kept.members.end(), [&](Ranked r) { return power_of(r) < last; });
  std::sort(within, kept.members.end(), std::greater<>());
  while (kept.members.size() > 1 && spare >= posterior[index_of(kept.members.back())]) {
    spare -= posterior[index_of(kept.members.back())];
    kept.members.pop_back();
  }
  if (!kept.members.empty()) {
    std::iter_swap(kept.members.begin(), std::max_element(kept.members.begin(), kept.members.end()));
  }
  std::vector<int> members(kept.members.size());
  std::transform(kept.members.begin(), kept.members.end(), members.begin(), index_of);
  return members;
}

std::vector<int> likeliest_of(const std::vector<double>& posterior, double coverage)
{
  std::vector<Ranked> kept = covering(posterior, coverage).members;
  std::sort(kept.begin(), kept.end(), std::greater<>());
  std::vector<int> order;
  order.reserve(kept.size());
  double covered = 0.0;
  for (const Ranked next : kept) {
    if (covered >= coverage) {
      break;
    }
    order.push_back(index_of(next));
    covered += posterior[order.back()];
  }
  return order;
}

}  // namespace bilancetta
