#include "mix_sampler.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "bilancetta/lot.hpp"

namespace bilancetta
{

namespace
{

constexpr int chains = 6;
constexpr int states_a_chain = 4;
constexpr int first_sweeps = 80;
constexpr int sweeps_apart = 8;
constexpr int names_a_state = 12;
// 1 / concentration on each level, and the prior of each: half for the tables as they are. Judgement.
constexpr std::array<double, 7> weights = {0.0, 1.0 / 300, 1.0 / 100, 1.0 / 30, 0.1, 1.0 / 3, 1.0};
constexpr std::array<double, 7> weight_prior = {0.5, 1.0 / 12, 1.0 / 12, 1.0 / 12, 1.0 / 12, 1.0 / 12, 1.0 / 12};
constexpr float negligible_ln = -12.0F;
constexpr double hopeless_ln = 30.0;

// ln of the rising factorial of share / weight, from `count` on for `more` steps, times weight^more: what `more`
// further pieces at one node do to the probability of the counts.
double ln_rising(double weight, double share, double count, double more)
{
  if (weight <= 0.0) {
    return more * std::log(share);
  }
  if (more <= 16.0) {
    double product = 1.0;
    for (double i = count; i < count + more; ++i) {
      product *= share + weight * i;
    }
    return std::log(product);
  }
  const double from = share / weight + count;
  return std::lgamma(from + more) - std::lgamma(from) + more * std::log(weight);
}

}  // namespace

MixSampler::MixSampler(const LearnedMix& mix, LearnedMix::PlaceMix& place) : mix_(mix), place_(place)
{
  for (LearnedMix::Teacher& teacher : place.teachers) {
    const double power = effective_readings(teacher.rows) / static_cast<double>(teacher.rows);
    std::vector<float>& ln = ln_likelihood_.emplace_back(teacher.ln_sum);
    float highest = -INFINITY;
    for (float& value : ln) {
      value *= static_cast<float>(power);
      highest = std::max(highest, value);
    }
    std::vector<Option>& options = options_.emplace_back();
    for (std::size_t i = 0; i < ln.size(); ++i) {
      if (place.prior[i] > 0.0 && ln[i] - highest > negligible_ln) {
        options.push_back(
            {static_cast<int>(i), mix.family_of_[i], static_cast<float>(place.prior[i]) * std::exp(ln[i] - highest)});
      }
    }
    teacher.chosen.clear();
  }
  row_gain_.assign(place.prior.size(), 1.0F);
  family_gain_.assign(place.family_prior.size(), 1.0F);
  for (std::size_t f = 0; f < place.family_prior.size(); ++f) {
    if (place.family_prior[f] > 0.0) {
      families_of_[mix.build_of_family_[f]].push_back(static_cast<int>(f));
    }
  }
}

void MixSampler::gains_of_build(int build)
{
  const std::array<double, 3>& w = state_.weight;
  const double count = state_.build[build];
  const double own = (w[0] * count / place_.build_prior[build] + 1.0) / (w[1] * count + 1.0);
  for (const int f : families_of_[build]) {
    const double share = place_.family_prior[f] / place_.build_prior[build];
    const double in_family = state_.family[f];
    family_gain_[f] = static_cast<float>(own * (w[1] * in_family / share + 1.0) / (w[2] * in_family + 1.0));
  }
}

void MixSampler::gain_of_row(int hypothesis)
{
  const double share = place_.prior[hypothesis] / place_.family_prior[mix_.family_of_[hypothesis]];
  row_gain_[hypothesis] = static_cast<float>(state_.weight[2] * state_.row[hypothesis] / share + 1.0);
}

void MixSampler::count(int hypothesis, double by)
{
  mix_.count(state_, hypothesis, by);
  gains_of_build(mix_.build_of_[hypothesis]);
  gain_of_row(hypothesis);
}

void MixSampler::all_gains()
{
  for (int b = 0; b < 4; ++b) {
    gains_of_build(b);
  }
  for (std::size_t i = 0; i < place_.prior.size(); ++i) {
    gain_of_row(static_cast<int>(i));
  }
}

double MixSampler::uniform()
{
  return static_cast<double>(random_() >> 11) * 0x1p-53;
}

template <typename Odds>
std::size_t MixSampler::pick(const Odds& odds)
{
  double left =
      uniform() * static_cast<double>(std::accumulate(odds.begin(), odds.end(), typename Odds::value_type(0)));
  std::size_t k = 0;
  while (k + 1 < odds.size() && left >= odds[k]) {
    left -= odds[k++];
  }
  return k;
}

// ln P(counts of one level | weight).
double MixSampler::ln_level(int level, double weight) const
{
  double sum = 0.0;
  const auto node = [&](double count, double share) {
    sum += count > 0.0 ? ln_rising(weight, share, 0.0, count) : 0.0;
  };
  const auto parent = [&](double count) { sum -= count > 0.0 ? ln_rising(weight, 1.0, 0.0, count) : 0.0; };
  if (level == 0) {
    parent(state_.all);
    for (int b = 0; b < 4; ++b) {
      node(state_.build[b], place_.build_prior[b]);
    }
  } else if (level == 1) {
    std::for_each(state_.build.begin(), state_.build.end(), parent);
    for (std::size_t f = 0; f < state_.family.size(); ++f) {
      node(state_.family[f], place_.family_prior[f] / place_.build_prior[mix_.build_of_family_[f]]);
    }
  } else {
    std::for_each(state_.family.begin(), state_.family.end(), parent);
    for (std::size_t i = 0; i < state_.row.size(); ++i) {
      node(state_.row[i], place_.prior[i] / place_.family_prior[mix_.family_of_[i]]);
    }
  }
  return sum;
}

void MixSampler::draw_weights()
{
  std::vector<double> odds(weights.size());
  for (int level = 0; level < 3; ++level) {
    for (std::size_t k = 0; k < weights.size(); ++k) {
      odds[k] = std::log(weight_prior[k]) + ln_level(level, weights[k]);
    }
    const double highest = *std::max_element(odds.begin(), odds.end());
    for (double& value : odds) {
      value = std::exp(value - highest);
    }
    state_.weight[level] = weights[pick(odds)];
  }
  all_gains();
}

// Each teacher anew, given all others.
void MixSampler::choose_each()
{
  std::vector<float> odds;
  for (std::size_t t = 0; t < options_.size(); ++t) {
    const std::vector<Option>& options = options_[t];
    if (options.empty()) {
      continue;
    }
    if (chosen_[t] >= 0) {
      count(chosen_[t], -1.0);
    }
    odds.clear();
    for (const Option& option : options) {
      odds.push_back(option.odds * row_gain_[option.hypothesis] * family_gain_[option.family]);
    }
    chosen_[t] = options[pick(odds)].hypothesis;
    count(chosen_[t], 1.0);
  }
}

// All teachers that are one material together become another one that no other teacher is, or stay: a Gibbs step over
// all names that are free. Lookalikes would otherwise change places only piece by piece, hence hardly ever.
void MixSampler::rename(int material, const std::vector<int>& teachers)
{
  const auto n = static_cast<double>(teachers.size());
  count(material, -n);
  const std::size_t members = place_.prior.size();
  std::vector<double> ln(members, 0.0);
  for (const int t : teachers) {
    for (std::size_t i = 0; i < members; ++i) {
      ln[i] += ln_likelihood_[t][i];
    }
  }
  std::vector<double> of_family(state_.family.size(), 0.0);
  for (std::size_t f = 0; f < of_family.size(); ++f) {
    const int b = mix_.build_of_family_[f];
    const double of_build = place_.build_prior[b];
    const double share = place_.family_prior[f];
    of_family[f] = share <= 0.0 ? -INFINITY
                                : ln_rising(state_.weight[0], of_build, state_.build[b], n) +
                                      ln_rising(state_.weight[1], share / of_build, state_.family[f], n) -
                                      ln_rising(state_.weight[1], 1.0, state_.build[b], n) -
                                      ln_rising(state_.weight[2], 1.0, state_.family[f], n);
  }
  const double likeliest = *std::max_element(ln.begin(), ln.end());
  double highest = -INFINITY;
  for (std::size_t i = 0; i < members; ++i) {
    const int f = mix_.family_of_[i];
    const bool free = state_.row[i] <= 0.0 && place_.prior[i] > 0.0 && ln[i] > likeliest - hopeless_ln;
    ln[i] = free ? ln[i] + of_family[f] + ln_rising(state_.weight[2], place_.prior[i] / place_.family_prior[f], 0.0, n)
                 : -INFINITY;
    highest = std::max(highest, ln[i]);
  }
  for (double& value : ln) {
    value = value > highest - hopeless_ln ? std::exp(value - highest) : 0.0;
  }
  const int chosen = std::isfinite(highest) ? static_cast<int>(pick(ln)) : material;
  count(chosen, n);
  for (const int t : teachers) {
    chosen_[t] = chosen;
  }
}

void MixSampler::rename_each()
{
  std::map<int, std::vector<int>> teachers_of;
  for (std::size_t t = 0; t < chosen_.size(); ++t) {
    if (chosen_[t] >= 0) {
      teachers_of[chosen_[t]].push_back(static_cast<int>(t));
    }
  }
  for (const auto& [material, teachers] : teachers_of) {
    // An earlier one may have taken this name: then it is not one material's teachers any more.
    if (teachers.size() > 1 && state_.row[material] == static_cast<double>(teachers.size())) {
      rename(material, teachers);
    }
  }
}

void MixSampler::run()
{
  place_.kept.clear();
  for (int chain = 0; chain < chains; ++chain) {
    random_.seed(20240601U + static_cast<unsigned>(chain));
    state_ = {};
    state_.weight.fill(0.1);
    state_.row.assign(place_.prior.size(), 0.0);
    state_.family.assign(place_.family_prior.size(), 0.0);
    chosen_.assign(options_.size(), -1);
    all_gains();
    for (int sweep = 1; sweep <= first_sweeps + states_a_chain * sweeps_apart; ++sweep) {
      choose_each();
      rename_each();
      draw_weights();
      // Names change more freely than who belongs together, so each partition is kept under several.
      for (int k = 0; k < names_a_state && sweep > first_sweeps && sweep % sweeps_apart == 0; ++k) {
        choose_each();
        rename_each();
        for (std::size_t t = 0; t < chosen_.size(); ++t) {
          place_.teachers[t].chosen.push_back(static_cast<std::int16_t>(chosen_[t]));
        }
        place_.kept.push_back(state_);
      }
    }
  }
}

}  // namespace bilancetta
