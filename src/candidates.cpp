#include "candidates.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "hypothesis_words.hpp"
#include "ruled_out.hpp"
#include "started_threads.hpp"
#include "weighed_draws.hpp"

namespace bilancetta
{

namespace
{

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
CandidateShares describe(const Tables& tables, const Verdict& v, const Member& member, const VerdictOptions& options,
                         const DrawWeights& weights, Candidate& c)
{
  const Hypothesis& h = member.hypothesis;
  const Fit fit = fit_of(h, v.analysis.density.value, v.analysis.density.standard_uncertainty);
  c.misfit = fit.misfit;
  c.fit_converged = fit.converged;
  const Worth worth(tables, options.prices);
  CandidateShares own{c.member, constituents_of(h), std::vector<ShareHistogram>(constituents_of(h).size())};
  const std::vector<int>& constituents = own.constituents;
  std::vector<ShareHistogram>& whole = own.shares;
  std::vector<ShareHistogram> face(h.outer.size);
  ShareHistogram outer_share;
  std::vector<std::pair<double, double>> thickness;
  for_each_weighed_draw(member, weights, [&](const Outcome<Lanes>& outcomes, const Lanes& masses, int count) {
    for (std::size_t k = 0; k < constituents.size(); ++k) {
      add(whole[k], fraction_of(h, outcomes, constituents[k]), masses, count);
    }
    if (worth.counts(h)) {
      add(own.worth, worth.of_a_gram(h, outcomes), masses, count);
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
                                        fraction_of(h, fit.outcome, constituents[k]), whole[k].band(options.level)));
  }
  std::sort(c.fractions.begin(), c.fractions.end(), [](const auto& a, const auto& b) { return a.best > b.best; });
  if (h.inner_material < 0) {
    return own;
  }
  for (int k = 0; k < h.outer.size; ++k) {
    c.face_fractions.push_back(fraction_band(tables.constituents[h.outer.constituent[k]].key, fit.outcome.outer[k],
                                             face[k].band(options.level)));
  }
  const Band share = outer_share.band(options.level);
  const Mass mass{v.mass_g, v.mass_u_g};
  c.face_mass_g = grams_of(mass, share, options.level);
  c.base_mass_g = grams_of(mass, {1.0 - share.median, 1.0 - share.high, 1.0 - share.low}, options.level);
  if (h.kind == Kind::plated) {
    c.thickness_um = weighted_band(std::move(thickness), options.level);
  }
  return own;
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
    shares[k] = describe(tables, v, finer(*(*v.analysis.members)[c.member]), options, weights, c);
  });
  if (v.analysis.density.bounded && v.analysis.density.possible) {
    add_ruled_out(tables, piece, v);
  }
  return shares;
}

}  // namespace bilancetta
