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

BILANCETTA_VECTORISED std::vector<double> posterior_of(const std::vector<double>& prior,
                                                       const std::vector<double>& evidence,
                                                       const std::vector<double>& test_likelihood)
{
  assert(prior.size() == evidence.size() && prior.size() == test_likelihood.size());
  std::vector<double> posterior(prior.size());
  for (std::size_t i = 0; i < prior.size(); ++i) {
    posterior[i] = prior[i] * evidence[i] * test_likelihood[i];
  }
  const double total = sum_of(posterior.data(), posterior.size());
  const double factor = total > 0.0 ? 1.0 / total : 0.0;
  for (double& value : posterior) {
    value *= factor;
  }
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

// The members more probable than that, in their order. Most have hardly any probability, often many side by side.
BILANCETTA_VECTORISED std::vector<Ranked> above(const std::vector<double>& probability, double least)
{
  constexpr std::size_t block = 8;
  std::vector<Ranked> kept(probability.size() + 1);
  std::size_t count = 0;
  for (std::size_t first = 0; first < probability.size(); first += block) {
    const std::size_t end = std::min(first + block, probability.size());
    bool any = false;
    for (std::size_t i = first; i < end; ++i) {
      any |= probability[i] > least;
    }
    for (std::size_t i = first; any && i < end; ++i) {
      kept[count] = ranked(probability[i], i);
      count += probability[i] > least ? 1 : 0;
    }
  }
  kept.resize(count);
  return kept;
}

}  // namespace

std::vector<int> likeliest_of(const std::vector<double>& posterior, double coverage)
{
  // Sorting is left to those that matter; nearly always the first threshold keeps enough.
  std::vector<Ranked> kept;
  double total = 0.0;
  for (double least = 0.01 * (1.0 - coverage); total < coverage && least > 1e-30 && kept.size() < posterior.size();
       least *= 0.01) {
    kept = above(posterior, least);
    total = std::accumulate(kept.begin(), kept.end(), 0.0,
                            [&](double sum, Ranked r) { return sum + posterior[index_of(r)]; });
  }
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
