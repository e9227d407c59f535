#include "mix_sampler.hpp"

#include <algorithm>
#include <cmath>

#include "bilancetta/lot.hpp"
#include "started_threads.hpp"

namespace bilancetta
{

namespace
{

constexpr std::size_t chains = 8;
// Judgement: chances that a kind is a row, a family, a build, and whatever the tables expect.
constexpr std::array<double, 4> kind_is = {0.5, 0.2, 0.1, 0.2};

}  // namespace

MixSampler::MixSampler(const LearnedMix& mix, LearnedMix::PlaceMix& place)
    : mix_(mix), place_(place), chance_(place.of_node.size(), 0.0)
{
  for (std::size_t i = 0; i < place.prior.size(); ++i) {
    const std::array<std::size_t, 4> held_by = mix.nodes_of(i);
    for (std::size_t level = 0; level < 4; ++level) {
      chance_[held_by[level]] += kind_is[level] * place.prior[i];
    }
  }
}

MixNodes MixSampler::nodes_of_place() const
{
  const auto teachers = static_cast<double>(place_.teachers.size());
  MixNodes nodes(chance_, place_.teachers.size(), mix_.trusted_pieces_ / (mix_.trusted_pieces_ + teachers));
  for (std::size_t t = 0; t < place_.teachers.size(); ++t) {
    const LearnedMix::Teacher& teacher = place_.teachers[t];
    const double power = effective_readings(teacher.rows) / static_cast<double>(teacher.rows);
    // Rows of a lot may rule each other out altogether: then they say nothing, each being as unlikely as the next.
    const double highest = std::max(*std::max_element(teacher.ln_sum.begin(), teacher.ln_sum.end()), -1e30);
    std::vector<double> sum(chance_.size(), 0.0);
    for (std::size_t i = 0; i < place_.prior.size(); ++i) {
      const double p = place_.prior[i] * std::exp(power * (teacher.ln_sum[i] - highest));
      for (const std::size_t v : mix_.nodes_of(i)) {
        sum[v] += p;
      }
    }
    for (std::size_t v = 0; v < sum.size(); ++v) {
      nodes.set(t, v, place_.of_node[v] > 0.0 ? sum[v] / place_.of_node[v] : 0.0);
    }
  }
  return nodes;
}

// Of each hypothesis, over its prior: what its nodes have, each shared out among all that it holds.
std::vector<float> MixSampler::factors_of(const MixLesson::Part& part, int states) const
{
  std::vector<float> factors;
  for (std::size_t i = 0; i < place_.prior.size(); ++i) {
    double factor = 0.0;
    for (const std::size_t v : mix_.nodes_of(i)) {
      const double share = part.node[v] + part.spread * chance_[v];
      factor += place_.of_node[v] > 0.0 ? share / place_.of_node[v] / states : 0.0;
    }
    factors.push_back(static_cast<float>(factor));
  }
  return factors;
}

void MixSampler::run(int threads, unsigned seed)
{
  const MixNodes nodes = nodes_of_place();
  std::vector<MixLesson> of_chain(chains, MixLesson(nodes));
  for_each_index(chains, threads, [&](std::size_t chain) {
    of_chain[chain] = MixChain(nodes, seed + static_cast<unsigned>(chain)).run();
  });
  MixLesson lesson(nodes);
  for (const MixLesson& one : of_chain) {
    lesson.add(one);
  }
  place_.mean_factor = factors_of(lesson.mix(), lesson.states());
  // Teachers that say the same, which stand together, are taught the same.
  auto& teachers = place_.teachers;
  for (std::size_t first = 0; first < teachers.size();) {
    std::size_t end = first + 1;
    MixLesson::Part sum = lesson.without(first);
    for (; end < teachers.size() && teachers[end].says_the_same(teachers[first]); ++end) {
      sum.add(lesson.without(end));
    }
    const std::vector<float> factors = factors_of(sum, lesson.states() * static_cast<int>(end - first));
    for (; first < end; ++first) {
      teachers[first].factor = factors;
    }
  }
}

}  // namespace bilancetta
