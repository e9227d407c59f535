#include "mix_chain.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>

namespace bilancetta
{

namespace
{

constexpr int first_sweeps = 40;
constexpr int kept_sweeps = 260;                                         // every fourth is kept
constexpr std::size_t most_kinds = 24;                                   // of one jar
constexpr std::array<double, 4> concentrations = {0.5, 2.0, 8.0, 32.0};  // judgement
constexpr double first_concentration = 2.0;
// Kinds of fewer pieces are drawn anew only when they are of none: they are found by chance.
constexpr double least_replaced = 1.5;
constexpr double least_shared = 0.5;  // pieces of two kinds together

// Of a number above 0. std::lgamma writes a sign that all threads share.
double ln_gamma(double x)
{
  int sign = 0;
  return lgamma_r(x, &sign);
}

}  // namespace

MixChain::MixChain(const MixNodes& nodes, unsigned seed)
    : nodes_(nodes),
      node_(most_kinds),
      state_{std::vector<std::size_t>(nodes.teachers()), std::vector<int>(most_kinds, 0),
             first_concentration / static_cast<double>(most_kinds), nodes.weight()},
      share_(most_kinds),
      likelihood_(most_kinds, std::vector<double>(nodes.teachers())),
      mixed_(nodes.teachers()),
      random_(seed)
{
  for (std::size_t k = 0; k < most_kinds; ++k) {
    become(k, pick(nodes.chance()));
  }
  draw_shares();
}

double MixChain::uniform()
{
  return static_cast<double>(random_() >> 11) * 0x1p-53;
}

double MixChain::gamma(double shape)
{
  return std::gamma_distribution<double>(shape)(random_);
}

std::size_t MixChain::pick(const std::vector<double>& odds)
{
  double left = uniform() * std::accumulate(odds.begin(), odds.end(), 0.0);
  std::size_t k = 0;
  std::size_t last = 0;  // that is possible
  for (; k < odds.size(); left -= odds[k++]) {
    last = odds[k] > 0.0 ? k : last;
    if (left < odds[k]) {
      return k;
    }
  }
  return last;
}

void MixChain::become(std::size_t kind, std::size_t node)
{
  node_[kind] = node;
  for (std::size_t t = 0; t < mixed_.size(); ++t) {
    likelihood_[kind][t] = nodes_.likelihood(t, node);
  }
}

void MixChain::add_up()
{
  std::fill(mixed_.begin(), mixed_.end(), 0.0);
  for (std::size_t k = 0; k < most_kinds; ++k) {
    for (std::size_t t = 0; t < mixed_.size(); ++t) {
      mixed_[t] += share_[k] * likelihood_[k][t];
    }
  }
}

void MixChain::draw_concentration()
{
  const double pieces = state_.weight * static_cast<double>(mixed_.size());
  std::vector<double> odds;
  for (const double a : concentrations) {
    const double each = a / static_cast<double>(most_kinds);
    double ln = ln_gamma(a) - ln_gamma(a + pieces);
    for (const int n : state_.count) {
      ln += n > 0 ? ln_gamma(each + state_.weight * n) - ln_gamma(each) : 0.0;
    }
    odds.push_back(ln);
  }
  const double highest = *std::max_element(odds.begin(), odds.end());
  std::transform(odds.begin(), odds.end(), odds.begin(), [&](double ln) { return std::exp(ln - highest); });
  state_.each = concentrations[pick(odds)] / static_cast<double>(most_kinds);
}

void MixChain::draw_shares()
{
  for (std::size_t k = 0; k < most_kinds; ++k) {
    share_[k] = gamma(state_.pieces_of(k));
  }
  const double total = std::accumulate(share_.begin(), share_.end(), 0.0);
  for (double& share : share_) {
    share = total > 0.0 ? share / total : 1.0 / static_cast<double>(most_kinds);
  }
}

// A kind becomes another, given the shares and the other kinds, whichever teachers are of it.
void MixChain::replace(std::size_t kind)
{
  factors_.clear();
  for (std::size_t t = 0; t < mixed_.size(); ++t) {
    const double own = share_[kind] * likelihood_[kind][t];
    const double others = std::max(mixed_[t] - own, 0.0);
    factors_.push_back({t, others / (others + own), share_[kind] / (others + own)});
  }
  nodes_.find_odds(factors_, odds_);
  const std::vector<double> before = likelihood_[kind];
  become(kind, pick(odds_));
  for (std::size_t t = 0; t < mixed_.size(); ++t) {
    mixed_[t] += share_[kind] * (likelihood_[kind][t] - before[t]);
  }
}

// Two kinds share anew what they have together, as they would beforehand, if the teachers agree (Metropolis): mostly
// one takes nearly all, so that kinds which are one by their pieces are joined in one step.
void MixChain::share_anew(std::size_t one, std::size_t other)
{
  constexpr double least_moved = 1e-6;  // pieces
  constexpr double least_likely = 1e-30;
  const auto pieces = static_cast<double>(mixed_.size());
  const double both = share_[one] + share_[other];
  if (both * pieces < least_shared) {
    return;
  }
  const double first = gamma(state_.each);
  const double part = first / std::max(first + gamma(state_.each), std::numeric_limits<double>::min());
  const double moved = both * part - share_[one];
  if (std::abs(moved) * pieces < least_moved) {
    return;
  }
  double product = 1.0;
  int exponent = 0;
  for (std::size_t t = 0; t < mixed_.size(); ++t) {
    const double change = moved * (likelihood_[one][t] - likelihood_[other][t]) / mixed_[t];
    product *= std::max(1.0 + change, least_likely);
    if (t % 8 == 7) {
      int taken = 0;
      product = std::frexp(product, &taken);
      exponent += taken;
    }
  }
  if (state_.weight * (std::log(product) + std::log(2.0) * exponent) < std::log(uniform())) {
    return;
  }
  share_[one] = both * part;
  share_[other] = both * (1.0 - part);
  for (std::size_t t = 0; t < mixed_.size(); ++t) {
    mixed_[t] = std::max(mixed_[t] + moved * (likelihood_[one][t] - likelihood_[other][t]), least_likely);
  }
}

// Which kind each teacher is, given kinds and shares.
void MixChain::assign()
{
  std::fill(state_.count.begin(), state_.count.end(), 0);
  std::vector<double> odds(most_kinds);
  for (std::size_t t = 0; t < state_.kind_of.size(); ++t) {
    for (std::size_t k = 0; k < most_kinds; ++k) {
      odds[k] = share_[k] * likelihood_[k][t];
    }
    state_.kind_of[t] = pick(odds);
    ++state_.count[state_.kind_of[t]];
  }
}

void MixChain::sweep()
{
  add_up();
  for (std::size_t k = 0; k < most_kinds; ++k) {
    if (share_[k] * static_cast<double>(mixed_.size()) > least_replaced) {
      replace(k);
    }
  }
  add_up();
  for (std::size_t one = 1; one < most_kinds; ++one) {
    for (std::size_t other = 0; other < one; ++other) {
      share_anew(one, other);
    }
  }
  assign();
}

MixLesson MixChain::run()
{
  MixLesson lesson(nodes_);
  for (int k = 0; k < first_sweeps + kept_sweeps; ++k) {
    sweep();
    if (k >= first_sweeps && k % 4 == 3) {
      lesson.add(state_);
    }
    draw_concentration();
    draw_shares();
    for (std::size_t kind = 0; kind < most_kinds; ++kind) {
      if (state_.count[kind] == 0) {
        become(kind, pick(nodes_.chance()));
      }
    }
  }
  return lesson;
}

}  // namespace bilancetta
