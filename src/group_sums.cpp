#include "bilancetta/group_sums.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>

namespace bilancetta
{

ExplanationSums& KindSums::operator[](int hypothesis)
{
  if (hypothesis >= static_cast<int>(place_.size())) {
    place_.resize(static_cast<std::size_t>(hypothesis) + 1, -1);
  }
  std::int16_t& place = place_[hypothesis];
  if (place < 0) {
    place = static_cast<std::int16_t>(sums_.size());
    sums_.emplace_back(hypothesis, ExplanationSums());
  }
  return sums_[place].second;
}

void KindSums::add(double mass_g, const JarExplanation& explanation)
{
  ExplanationSums& sums = (*this)[explanation.hypothesis];
  sums.probability_g += mass_g * explanation.probability;
  sums.listed_g += mass_g;
  for (std::size_t m = 0; m < sums.mean_g.size(); ++m) {
    sums.mean_g[m] += mass_g * explanation.share[m].mean;
    sums.sd_g[m] += mass_g * explanation.share[m].sd;
  }
}

void KindSums::join(const KindSums& other)
{
  for (const auto& [hypothesis, sums] : other.sums_) {
    ExplanationSums& own = (*this)[hypothesis];
    own.probability_g += sums.probability_g;
    own.listed_g += sums.listed_g;
    for (std::size_t m = 0; m < own.mean_g.size(); ++m) {
      own.mean_g[m] += sums.mean_g[m];
      own.sd_g[m] += sums.sd_g[m];
    }
  }
}

RisingSums KindSums::sums() const
{
  RisingSums rising = sums_;
  std::sort(rising.begin(), rising.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  return rising;
}

namespace
{

// A value that each hypothesis has, for more of them: new ones begin at nothing. No longer than it has to be.
std::vector<double> spread(const std::vector<double>& values, const std::vector<int>& from, const std::vector<int>& to)
{
  std::vector<double> all(to.size());
  std::size_t at = 0;
  for (std::size_t k = 0; k < values.size(); ++k) {
    while (to[at] != from[k]) {
      ++at;
    }
    all[at] = values[k];
  }
  return all;
}

// Of one value of a row's explanations, its logarithm over the smallest.
class Excess
{
 public:
  Excess(const std::vector<JarExplanation>& explanations, double JarExplanation::*value) : value_(value)
  {
    for (const JarExplanation& e : explanations) {
      least_ = std::min(least_, of(e));
    }
  }
  [[nodiscard]] double operator()(const JarExplanation& e) const { return std::max(0.0, std::log(of(e) / least_)); }

 private:
  [[nodiscard]] double of(const JarExplanation& e) const { return std::max(e.*value_, 1e-30); }

  double JarExplanation::*value_;
  double least_ = std::numeric_limits<double>::infinity();
};

}  // namespace

void LotSums::make_room_for(const std::vector<const JarExplanation*>& rising)
{
  std::vector<int> all(rising.size());
  std::transform(rising.begin(), rising.end(), all.begin(), [](const JarExplanation* e) { return e->hypothesis; });
  const bool alike = rows_ == 0 || all == hypotheses_;
  if (!alike && listed_g_.empty()) {
    listed_g_.assign(hypotheses_.size(), mass_g_);
  }
  if (!alike) {
    std::vector<int> both;
    std::set_union(all.begin(), all.end(), hypotheses_.begin(), hypotheses_.end(), std::back_inserter(both));
    all.assign(both.begin(), both.end());
  }
  if (all.size() == hypotheses_.size()) {
    return;
  }
  for (std::vector<double>* values : {&prior_, &evidence_, &answers_, &listed_g_, &silver_g_, &silver_sd_g_}) {
    const bool none_yet = values->empty() && (values == &answers_ || values == &listed_g_);
    *values = none_yet ? std::vector<double>() : spread(*values, hypotheses_, all);
  }
  hypotheses_ = std::move(all);
}

void LotSums::add_other(int hypothesis, int metal, double mean_g, double sd_g)
{
  const auto place = std::lower_bound(others_.begin(), others_.end(), std::pair(hypothesis, metal),
                                      [](const Other& other, const std::pair<int, int>& wanted) {
                                        return std::pair(other.hypothesis, other.metal) < wanted;
                                      });
  if (place != others_.end() && place->hypothesis == hypothesis && place->metal == metal) {
    place->mean_g += mean_g;
    place->sd_g += sd_g;
  } else if (mean_g != 0.0 || sd_g != 0.0) {
    others_.insert(place, {hypothesis, metal, mean_g, sd_g});
  }
}

void LotSums::add(double mass_g, const std::vector<JarExplanation>& explanations, bool tested)
{
  std::vector<const JarExplanation*> rising(explanations.size());
  std::transform(explanations.begin(), explanations.end(), rising.begin(), [](const JarExplanation& e) { return &e; });
  std::sort(rising.begin(), rising.end(), [](const auto* a, const auto* b) { return a->hypothesis < b->hypothesis; });
  make_room_for(rising);
  ++rows_;
  mass_g_ += mass_g;
  if (tested && tested_rows_++ == 0) {
    answers_.resize(hypotheses_.size());
  }
  const Excess prior(explanations, &JarExplanation::prior);
  const Excess evidence(explanations, &JarExplanation::evidence);
  const Excess answers(explanations, &JarExplanation::test_likelihood);
  std::size_t k = 0;
  for (const JarExplanation* e : rising) {
    while (hypotheses_[k] != e->hypothesis) {
      ++k;
    }
    prior_[k] += prior(*e);
    evidence_[k] += evidence(*e);
    if (tested) {
      answers_[k] += answers(*e);
    }
    if (!listed_g_.empty()) {
      listed_g_[k] += mass_g;
    }
    silver_g_[k] += mass_g * e->share[0].mean;
    silver_sd_g_[k] += mass_g * e->share[0].sd;
    for (std::size_t m = 1; m < e->share.size(); ++m) {
      add_other(e->hypothesis, static_cast<int>(m), mass_g * e->share[m].mean, mass_g * e->share[m].sd);
    }
  }
  others_.shrink_to_fit();
}

RisingSums LotSums::sums() const
{
  const double evidences = effective_readings(rows_);
  RisingSums all(hypotheses_.size());
  auto other = others_.begin();
  for (std::size_t k = 0; k < all.size(); ++k) {
    auto& [hypothesis, sums] = all[k];
    hypothesis = hypotheses_[k];
    const auto value = [](double excess, double power, long rows) {
      return std::exp(power * excess / static_cast<double>(rows));
    };
    sums.probability_g = value(prior_[k], 1.0, rows_) * value(evidence_[k], evidences, rows_) *
                         (answers_.empty() ? 1.0 : value(answers_[k], 1.0, tested_rows_));
    sums.listed_g = listed_g_.empty() ? mass_g_ : listed_g_[k];
    sums.mean_g[0] = silver_g_[k];
    sums.sd_g[0] = silver_sd_g_[k];
    for (; other != others_.end() && other->hypothesis == hypothesis; ++other) {
      sums.mean_g[static_cast<std::size_t>(other->metal)] = other->mean_g;
      sums.sd_g[static_cast<std::size_t>(other->metal)] = other->sd_g;
    }
  }
  return all;
}

}  // namespace bilancetta
