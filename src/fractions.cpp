#include "fractions.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <tuple>

#include "normal_bank.hpp"
#include "weighed_draws.hpp"

namespace bilancetta
{

namespace
{

// Constituents besides the reported five are listed when their upper end reaches this.
constexpr double worth_listing = 0.02;

}  // namespace

Worth::Worth(const Tables& tables, const Prices& prices)
{
  for (const auto& [metal, per_g] : prices.per_g) {
    dearest_ = std::max(dearest_, per_g * prices.pays);
  }
  for (const auto& [metal, per_g] : prices.per_g) {
    if (dearest_ > 0.0) {
      priced_.push_back({find_constituent(tables, metal), per_g * prices.pays / dearest_});
    }
  }
}

bool Worth::counts(const Hypothesis& hypothesis) const
{
  return std::any_of(priced_.begin(), priced_.end(),
                     [&](const Priced& one) { return holds(hypothesis, one.constituent); });
}

Lanes Worth::of_a_gram(const Hypothesis& hypothesis, const Outcome<Lanes>& outcomes) const
{
  Lanes total(0.0);
  for (const Priced& one : priced_) {
    total += one.share * fraction_of(hypothesis, outcomes, one.constituent);
  }
  return total;
}

std::vector<int> constituents_of(const Hypothesis& hypothesis)
{
  const auto& [outer, inner] = std::tie(hypothesis.outer, hypothesis.inner);
  std::vector<int> all(outer.constituent.begin(), outer.constituent.begin() + outer.size);
  for (int i = 0; i < inner.size; ++i) {
    if (std::find(all.begin(), all.end(), inner.constituent[i]) == all.end()) {
      all.push_back(inner.constituent[i]);
    }
  }
  return all;
}

namespace
{

// Adds the fractions of one hypothesis with this probability, by constituent of the tables.
void add_drawn_shares(const Member& member, const DrawWeights& weights, double probability, const Worth& worth,
                      std::vector<ShareHistogram>& shares)
{
  // Hypotheses whose own draws could be seen in the bands.
  constexpr double shows = 0.1;
  const std::vector<int> constituents = constituents_of(member.hypothesis);
  const std::optional<Member> fine = probability > shows ? std::optional(finer(member)) : std::nullopt;
  for_each_weighed_draw(
      fine ? *fine : member, weights, [&](const Outcome<Lanes>& outcomes, const Lanes& masses, int count) {
        for (const int c : constituents) {
          add(shares[c], fraction_of(member.hypothesis, outcomes, c), probability * masses, count);
        }
        if (worth.counts(member.hypothesis)) {
          add(shares.back(), worth.of_a_gram(member.hypothesis, outcomes), probability * masses, count);
        }
      });
}

}  // namespace

std::vector<ShareHistogram> fraction_histograms(const Tables& tables, const Analysis& analysis,
                                                const std::vector<int>& plausible,
                                                const std::vector<CandidateShares>& known, const Prices& prices)
{
  const Worth worth(tables, prices);
  const DrawWeights weights(analysis, plausible);
  std::vector<ShareHistogram> shares(tables.constituents.size());
  if (worth.any()) {
    shares.emplace_back(Worth::bins);
  }
  std::vector<double> present(shares.size(), 0.0);
  for (const int i : plausible) {
    const Member& member = *(*analysis.members)[i];
    const double probability = analysis.posterior[i];
    for (const int c : constituents_of(member.hypothesis)) {
      present[c] += probability;
    }
    present.back() += worth.counts(member.hypothesis) ? probability : 0.0;
    const auto own = std::find_if(known.begin(), known.end(), [&](const CandidateShares& k) { return k.member == i; });
    if (own == known.end()) {
      add_drawn_shares(member, weights, probability, worth, shares);
      continue;
    }
    for (std::size_t k = 0; k < own->constituents.size(); ++k) {
      shares[own->constituents[k]].add(own->shares[k], probability);
    }
    if (worth.counts(member.hypothesis)) {
      shares.back().add(own->worth, probability);
    }
  }
  for (std::size_t c = 0; c < shares.size(); ++c) {
    shares[c].add(0.0, std::max(1.0 - present[c], 0.0));
  }
  return shares;
}

double probability_of_none(const Analysis& analysis, int constituent)
{
  double none = 0.0;
  for (std::size_t i = 0; i < analysis.posterior.size(); ++i) {
    none += holds((*analysis.members)[i]->hypothesis, constituent) ? 0.0 : analysis.posterior[i];
  }
  return none;
}

Band grams_of(const Mass& mass, const Band& fraction, double level)
{
  const double mass_part = inverse_normal(0.5 + 0.5 * level) * mass.u_g / mass.g;
  const auto end = [&](double value) {
    return fraction.median +
           (value - fraction.median) * std::hypot(1.0, value != fraction.median
                                                           ? mass_part * fraction.median / (value - fraction.median)
                                                           : 0.0);
  };
  return {mass.g * fraction.median, mass.g * std::max(end(fraction.low), 0.0),
          mass.g * std::min(end(fraction.high), 1.0 + mass_part)};
}

void add_fractions(const Tables& tables, const VerdictOptions& options, const std::vector<int>& plausible,
                   const std::vector<CandidateShares>& known, Verdict& v)
{
  const double level = options.level;
  const std::vector<ShareHistogram> shares = fraction_histograms(tables, v.analysis, plausible, known, options.prices);
  for (std::size_t c = 0; c < tables.constituents.size(); ++c) {
    const std::string& key = tables.constituents[c].key;
    const bool always =
        std::find(reported_fractions.begin(), reported_fractions.end(), key) != reported_fractions.end();
    if (always || shares[c].quantile(0.5 + 0.5 * level) > worth_listing) {
      v.fractions[key] = shares[c].band(level);
    }
    if (std::find(precious_metals.begin(), precious_metals.end(), key) != precious_metals.end()) {
      if (!v.background.hollow) {
        v.precious_g[key] = grams_of({v.mass_g, v.mass_u_g}, shares[c].band(level), level);
      }
      v.holds_none[key] = probability_of_none(v.analysis, static_cast<int>(c));
    }
  }
  if (const Worth worth(tables, options.prices); worth.any() && !v.background.hollow) {
    const Band as_grams = grams_of({v.mass_g, v.mass_u_g}, shares.back().band(level), level);
    const double price = worth.of_dearest();
    v.worth = Band{price * as_grams.median, price * as_grams.low, price * as_grams.high};
    v.prices = options.prices;
  }
}

}  // namespace bilancetta
