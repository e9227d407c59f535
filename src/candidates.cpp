#include "candidates.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "draws.hpp"
#include "hypothesis_words.hpp"
#include "ruled_out.hpp"
#include "started_threads.hpp"

namespace bilancetta
{

namespace
{

constexpr const char* reported_fractions[] = {"Ag", "Cu", "W", "CdO", "Ni"};
constexpr const char* precious_metals[] = {"Ag", "Au", "Pd", "Pt"};
// Constituents besides the reported five are listed when their upper end reaches this.
constexpr double worth_listing = 0.02;

// Draws of a member as the weighing leaves them, eight of a line at a time; weights sum to 1. `use` gets what the
// hypothesis is there, the weights and how many of the eight there are.
template <typename Use>
void for_each_weighed_draw(const Member& member, const DrawWeights& draws, Use use)
{
  constexpr float negligible = 1e-8F;
  Draws all(member.hypothesis, member.fine);
  const int nodes = all.set().nodes;
  int line = -1;
  int count = 0;
  Lanes steps(0.0);
  Lanes masses(0.0);
  const auto use_those = [&] {
    if (count > 0) {
      use(all.outcomes_at(line, steps), masses, count);
    }
    count = 0;
  };
  for (const WeighedDraw& draw : draws.of(member)) {
    if (draw.mass <= negligible) {
      continue;
    }
    if (count == Lanes::count || draw.draw / nodes != line) {
      use_those();
      line = draw.draw / nodes;
    }
    steps.value[count] = static_cast<float>(draw.draw - line * nodes) + draw.along;
    masses.value[count++] = draw.mass;
  }
  use_those();
}

// Adds the first so many of eight.
void add(ShareHistogram& histogram, const Lanes& shares, const Lanes& masses, int count)
{
  for (int k = 0; k < count; ++k) {
    histogram.add(shares.value[k], masses.value[k]);
  }
}

Band weighted_band(std::vector<std::pair<double, double>> values, double level)
{
  std::sort(values.begin(), values.end());
  double total = 0.0;
  for (const auto& [value, mass] : values) {
    total += mass;
  }
  const auto quantile = [&](double probability) {
    double passed = 0.0;
    for (const auto& [value, mass] : values) {
      passed += mass;
      if (passed >= probability * total) {
        return value;
      }
    }
    return values.empty() ? 0.0 : values.back().first;
  };
  return {quantile(0.5), quantile(0.5 - 0.5 * level), quantile(0.5 + 0.5 * level)};
}

std::vector<int> constituents_of(const Recipe& outer, const Recipe& inner)
{
  std::vector<int> all(outer.constituent.begin(), outer.constituent.begin() + outer.size);
  for (int i = 0; i < inner.size; ++i) {
    if (std::find(all.begin(), all.end(), inner.constituent[i]) == all.end()) {
      all.push_back(inner.constituent[i]);
    }
  }
  return all;
}

Candidate named_candidate(const Tables& tables, const Hypothesis& h)
{
  Candidate c;
  c.words = hypothesis_words(tables, h);
  c.build = h.build;
  c.kind = h.kind;
  if (h.kind == Kind::open_mix) {
    c.material = c.words;
    c.key = "open-mix";
    c.group = "open-mix";
    return c;
  }
  c.material = tables.materials[h.outer_material].name;
  c.key = tables.materials[h.outer_material].key;
  c.group = tables.materials[h.outer_material].group;
  if (h.inner_material >= 0) {
    c.over = tables.materials[h.inner_material].key;
    c.over_name = tables.materials[h.inner_material].name;
    c.both_faces = h.both_faces;
  }
  return c;
}

// The most plausible composition may lie at the very end of what the draws hold, as that of a nearly pure metal does.
FractionBand fraction_band(const std::string& constituent, double best, const Band& band)
{
  return {constituent, best, std::min(band.low, best), std::max(band.high, best)};
}

// Fractions, layer masses and thickness of one candidate: best by the fit, bands by its draws. Returns the fractions.
CandidateShares describe(const Tables& tables, const Verdict& v, const Member& member, double level,
                         const DrawWeights& weights, Candidate& c)
{
  const Hypothesis& h = member.hypothesis;
  const Fit fit = fit_of(h, v.analysis.density.value, v.analysis.density.standard_uncertainty);
  c.misfit = fit.misfit;
  c.fit_converged = fit.converged;
  CandidateShares own{c.member, constituents_of(h.outer, h.inner), {}};
  const std::vector<int>& constituents = own.constituents;
  std::vector<ShareHistogram>& whole = own.shares;
  whole.resize(constituents.size());
  std::vector<ShareHistogram> face(h.outer.size);
  ShareHistogram outer_share;
  std::vector<std::pair<double, double>> thickness;
  for_each_weighed_draw(member, weights, [&](const Outcome<Lanes>& outcomes, const Lanes& masses, int count) {
    for (std::size_t k = 0; k < constituents.size(); ++k) {
      add(whole[k], fraction_of(h, outcomes, constituents[k]), masses, count);
    }
    for (int k = 0; k < h.outer.size; ++k) {
      add(face[k], outcomes.outer[k], masses, count);
    }
    add(outer_share, outcomes.outer_mass_share, masses, count);
    for (int k = 0; h.kind == Kind::plated && k < count; ++k) {
      thickness.emplace_back(outcomes.amount.value[k], masses.value[k]);
    }
  });
  for (std::size_t k = 0; k < constituents.size(); ++k) {
    c.fractions.push_back(fraction_band(tables.constituents[constituents[k]].key,
                                        fraction_of(h, fit.outcome, constituents[k]), whole[k].band(level)));
  }
  std::sort(c.fractions.begin(), c.fractions.end(), [](const auto& a, const auto& b) { return a.best > b.best; });
  if (h.inner_material < 0) {
    return own;
  }
  for (int k = 0; k < h.outer.size; ++k) {
    c.face_fractions.push_back(
        fraction_band(tables.constituents[h.outer.constituent[k]].key, fit.outcome.outer[k], face[k].band(level)));
  }
  const Band share = outer_share.band(level);
  c.face_mass_g = {v.mass_g * share.median, v.mass_g * share.low, v.mass_g * share.high};
  c.base_mass_g = {v.mass_g * (1.0 - share.median), v.mass_g * (1.0 - share.high), v.mass_g * (1.0 - share.low)};
  if (h.kind == Kind::plated) {
    c.thickness_um = weighted_band(std::move(thickness), level);
  }
  return own;
}

// Adds the fractions of one hypothesis with this probability, by constituent of the tables.
void add_drawn_shares(const Member& member, const DrawWeights& weights, double probability,
                      std::vector<ShareHistogram>& shares)
{
  // Hypotheses whose own draws could be seen in the bands.
  constexpr double shows = 0.1;
  const std::vector<int> constituents = constituents_of(member.hypothesis.outer, member.hypothesis.inner);
  const std::optional<Member> fine = probability > shows ? std::optional(finer(member)) : std::nullopt;
  for_each_weighed_draw(fine ? *fine : member, weights,
                        [&](const Outcome<Lanes>& outcomes, const Lanes& masses, int count) {
                          for (const int c : constituents) {
                            add(shares[c], fraction_of(member.hypothesis, outcomes, c), probability * masses, count);
                          }
                        });
}

double typical_density_of(const Member& member)
{
  const double zero[max_variables] = {};
  return member.hypothesis.evaluate(zero).density;
}

}  // namespace

std::vector<CandidateShares> add_candidates(const Tables& tables, const Piece& piece, const VerdictOptions& options,
                                            const std::vector<int>& plausible, Verdict& v)
{
  const DrawWeights weights(v.analysis, plausible);
  for (std::size_t k = 0; k < plausible.size(); ++k) {
    const int i = plausible[k];
    if (k >= 5 && v.analysis.posterior[i] < 0.01) {
      break;
    }
    const Member& member = *(*v.analysis.members)[i];
    Candidate c = named_candidate(tables, member.hypothesis);
    c.probability = v.analysis.posterior[i];
    c.member = i;
    c.expected_reading_g = expected_reading_g(v.analysis, piece.weighing, typical_density_of(member));
    v.candidates.push_back(std::move(c));
  }
  std::vector<CandidateShares> shares(v.candidates.size());
  for_each_index(v.candidates.size(), options.threads, [&](std::size_t k) {
    Candidate& c = v.candidates[k];
    shares[k] = describe(tables, v, finer(*(*v.analysis.members)[c.member]), options.level, weights, c);
  });
  if (v.analysis.density.bounded && v.analysis.density.possible) {
    add_ruled_out(tables, piece, v);
  }
  return shares;
}

std::vector<ShareHistogram> fraction_histograms(const Tables& tables, const Analysis& analysis,
                                                const std::vector<int>& plausible,
                                                const std::vector<CandidateShares>& known)
{
  const DrawWeights weights(analysis, plausible);
  std::vector<ShareHistogram> shares(tables.constituents.size());
  std::vector<double> present(tables.constituents.size(), 0.0);
  for (const int i : plausible) {
    const Member& member = *(*analysis.members)[i];
    const double probability = analysis.posterior[i];
    for (const int c : constituents_of(member.hypothesis.outer, member.hypothesis.inner)) {
      present[c] += probability;
    }
    const auto own = std::find_if(known.begin(), known.end(), [&](const CandidateShares& k) { return k.member == i; });
    if (own == known.end()) {
      add_drawn_shares(member, weights, probability, shares);
      continue;
    }
    for (std::size_t k = 0; k < own->constituents.size(); ++k) {
      shares[own->constituents[k]].add(own->shares[k], probability);
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

Band grams_of(const Verdict& v, const Band& fraction)
{
  const double mass_part = 2.0 * v.mass_u / v.mass_g;
  const auto end = [&](double value) {
    return fraction.median +
           (value - fraction.median) * std::hypot(1.0, value != fraction.median
                                                           ? mass_part * fraction.median / (value - fraction.median)
                                                           : 0.0);
  };
  return {v.mass_g * fraction.median, v.mass_g * std::max(end(fraction.low), 0.0),
          v.mass_g * std::min(end(fraction.high), 1.0)};
}

void add_fractions(const Tables& tables, double level, const std::vector<int>& plausible,
                   const std::vector<CandidateShares>& known, Verdict& v)
{
  const std::vector<ShareHistogram> shares = fraction_histograms(tables, v.analysis, plausible, known);
  for (std::size_t c = 0; c < shares.size(); ++c) {
    const std::string& key = tables.constituents[c].key;
    const bool always =
        std::find(std::begin(reported_fractions), std::end(reported_fractions), key) != std::end(reported_fractions);
    if (always || shares[c].quantile(0.5 + 0.5 * level) > worth_listing) {
      v.fractions[key] = shares[c].band(level);
    }
    if (std::find(std::begin(precious_metals), std::end(precious_metals), key) != std::end(precious_metals)) {
      if (!v.background.hollow) {
        v.precious_g[key] = grams_of(v, shares[c].band(level));
      }
      v.holds_none[key] = probability_of_none(v.analysis, static_cast<int>(c));
    }
  }
}

}  // namespace bilancetta
