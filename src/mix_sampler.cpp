#include "mix_sampler.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <numeric>

#include "bilancetta/lot.hpp"
#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

constexpr int chains = 16;
constexpr int first_sweeps = 16;
constexpr int kept_sweeps = 12;
constexpr std::size_t most_kinds = 24;  // of one jar
// Judgement, as are the shares of kinds that are a row, a family, a build, and whatever the tables expect.
constexpr std::array<double, 4> concentrations = {0.5, 2.0, 8.0, 32.0};
constexpr std::array<double, 4> kind_is = {0.5, 0.2, 0.1, 0.2};
constexpr float least_likelihood = 1e-13F;  // relative to the likeliest: readings have blunders
constexpr int factors_at_once = 16;         // of least_likelihood to its inverse: within reach of a double

// Products of many factors, one for each node, with exponents of two kept apart.
struct Products {
  std::vector<double> value;
  std::vector<std::int64_t> exponent;
};

BILANCETTA_VECTORISED void multiply(double* value, const float* likelihood, std::size_t nodes, double plus, double by)
{
  for (std::size_t v = 0; v < nodes; ++v) {
    value[v] *= plus + by * static_cast<double>(likelihood[v]);
  }
}

BILANCETTA_VECTORISED void take_exponents(double* value, std::int64_t* exponent, std::size_t nodes)
{
  constexpr std::int64_t one = std::bit_cast<std::int64_t>(1.0);
  constexpr std::int64_t fraction = (std::int64_t{1} << 52) - 1;
  for (std::size_t v = 0; v < nodes; ++v) {
    const auto bits = std::bit_cast<std::int64_t>(value[v]);  // positive and normal
    exponent[v] += static_cast<std::int64_t>(static_cast<std::uint64_t>(bits) >> 52U) - 1023;
    value[v] = std::bit_cast<double>((bits & fraction) | one);
  }
}

}  // namespace

MixSampler::MixSampler(const LearnedMix& mix, LearnedMix::PlaceMix& place) : place_(place)
{
  const std::size_t rows = place.prior.size();
  const std::size_t nodes = place.of_node.size();
  centre_.assign(nodes, 0.0);
  for (std::size_t i = 0; i < rows; ++i) {
    const std::array<std::size_t, 4> held_by = mix.nodes_of(i);
    for (std::size_t level = 0; level < 4; ++level) {
      centre_[held_by[level]] += kind_is[level] * place.prior[i];
    }
  }
  for (const LearnedMix::Teacher& teacher : place.teachers) {
    const auto power = static_cast<float>(effective_readings(teacher.rows) / static_cast<double>(teacher.rows));
    // Rows of a lot may rule each other out altogether: then they say nothing, each being as unlikely as the next.
    const float highest = std::max(*std::max_element(teacher.ln_sum.begin(), teacher.ln_sum.end()), -1e30F);
    std::vector<double> sum(nodes, 0.0);
    for (std::size_t i = 0; i < rows; ++i) {
      const double p = place.prior[i] * std::exp(power * (teacher.ln_sum[i] - highest));
      for (const std::size_t v : mix.nodes_of(i)) {
        sum[v] += p;
      }
    }
    std::vector<float>& likelihood = likelihood_.emplace_back();
    for (std::size_t v = 0; v < nodes; ++v) {
      const double mean = place.of_node[v] > 0.0 ? sum[v] / place.of_node[v] : 0.0;
      likelihood.push_back(std::max(static_cast<float>(mean), least_likelihood));
    }
  }
  kind_of_.assign(likelihood_.size(), 0);
}

double MixSampler::uniform()
{
  return static_cast<double>(random_() >> 11) * 0x1p-53;
}

std::size_t MixSampler::pick(const std::vector<double>& odds)
{
  double left = uniform() * std::accumulate(odds.begin(), odds.end(), 0.0);
  std::size_t k = 0;
  while (k + 1 < odds.size() && left >= odds[k]) {
    left -= odds[k++];
  }
  return k;
}

std::size_t MixSampler::pick_by_ln(std::vector<double> odds)
{
  const double highest = *std::max_element(odds.begin(), odds.end());
  std::transform(odds.begin(), odds.end(), odds.begin(), [&](double ln) { return std::exp(ln - highest); });
  return pick(odds);
}

void MixSampler::start()
{
  concentration_ = 2.0;
  node_.assign(most_kinds, 0);
  count_.assign(most_kinds, 0);
  for (int& node : node_) {
    node = static_cast<int>(pick(centre_));
  }
  draw_shares();
}

// Which kind each teacher is, given kinds and shares.
void MixSampler::assign()
{
  std::fill(count_.begin(), count_.end(), 0);
  std::vector<double> odds(most_kinds);
  for (std::size_t t = 0; t < likelihood_.size(); ++t) {
    for (std::size_t k = 0; k < most_kinds; ++k) {
      odds[k] = share_[k] * likelihood_[t][node_[k]];
    }
    kind_of_[t] = static_cast<std::int16_t>(pick(odds));
    ++count_[kind_of_[t]];
  }
}

void MixSampler::draw_concentration()
{
  std::vector<double> odds;
  for (const double a : concentrations) {
    const double each = a / static_cast<double>(most_kinds);
    double ln = std::lgamma(a) - std::lgamma(a + static_cast<double>(likelihood_.size()));
    for (const int n : count_) {
      ln += n > 0 ? std::lgamma(each + n) - std::lgamma(each) : 0.0;
    }
    odds.push_back(ln);
  }
  concentration_ = concentrations[pick_by_ln(std::move(odds))];
}

void MixSampler::draw_shares()
{
  share_.clear();
  for (const int n : count_) {
    share_.push_back(std::gamma_distribution<double>(n + concentration_ / static_cast<double>(most_kinds))(random_));
  }
  const double total = std::accumulate(share_.begin(), share_.end(), 0.0);
  for (double& share : share_) {
    share = total > 0.0 ? share / total : 1.0 / static_cast<double>(most_kinds);
  }
}

// A kind becomes another, given the shares and the other kinds, whichever teachers are of it.
void MixSampler::replace(std::size_t kind)
{
  const std::size_t nodes = centre_.size();
  Products products{std::vector<double>(nodes, 1.0), std::vector<std::int64_t>(nodes, 0)};
  for (std::size_t t = 0; t < likelihood_.size(); ++t) {
    const float* likelihood = likelihood_[t].data();
    double others = 0.0;
    for (std::size_t k = 0; k < most_kinds; ++k) {
      others += k == kind ? 0.0 : share_[k] * likelihood[node_[k]];
    }
    const double all = others + share_[kind] * likelihood[node_[kind]];
    multiply(products.value.data(), likelihood, nodes, others / all, share_[kind] / all);
    if (t % factors_at_once == factors_at_once - 1) {
      take_exponents(products.value.data(), products.exponent.data(), nodes);
    }
  }
  std::vector<double> odds;
  for (std::size_t v = 0; v < nodes; ++v) {
    odds.push_back(centre_[v] > 0.0 ? std::log(centre_[v] * products.value[v]) +
                                          std::log(2.0) * static_cast<double>(products.exponent[v])
                                    : -std::numeric_limits<double>::infinity());
  }
  node_[kind] = static_cast<int>(pick_by_ln(std::move(odds)));
}

void MixSampler::keep()
{
  LearnedMix::State state;
  state.each = concentration_ / static_cast<double>(most_kinds);
  state.node = node_;
  state.count = count_;
  state.gain.assign(centre_.size(), 0.0);
  for (std::size_t k = 0; k < most_kinds; ++k) {
    const std::size_t node = count_[k] > 0 ? static_cast<std::size_t>(node_[k]) : centre_.size() - 1;
    state.gain[node] += (state.each + count_[k]) / place_.of_node[node];
  }
  state.all = concentration_ + static_cast<double>(likelihood_.size());
  place_.kept.push_back(std::move(state));
  for (std::size_t t = 0; t < kind_of_.size(); ++t) {
    place_.teachers[t].chosen.push_back(kind_of_[t]);
  }
}

void MixSampler::sweep(bool kept)
{
  for (std::size_t k = 0; k < most_kinds; ++k) {
    // Others are of no piece or of one, and found by chance.
    if (share_[k] * static_cast<double>(likelihood_.size()) > 0.5) {
      replace(k);
    }
  }
  assign();
  if (kept) {
    keep();
  }
  draw_concentration();
  draw_shares();
  for (std::size_t k = 0; k < most_kinds; ++k) {
    if (count_[k] == 0) {
      node_[k] = static_cast<int>(pick(centre_));
    }
  }
}

void MixSampler::run()
{
  place_.kept.clear();
  for (LearnedMix::Teacher& teacher : place_.teachers) {
    teacher.chosen.clear();
  }
  for (int chain = 0; chain < chains; ++chain) {
    random_.seed(20240601U + static_cast<unsigned>(chain));
    start();
    for (int k = 0; k < first_sweeps + kept_sweeps; ++k) {
      sweep(k >= first_sweeps);
    }
  }
}

}  // namespace bilancetta
