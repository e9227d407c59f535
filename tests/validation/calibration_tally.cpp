#include "calibration_tally.hpp"

#include <algorithm>
#include <cmath>

#include "candidates.hpp"

using namespace bilancetta;

namespace validation
{

namespace
{

// Posteriors with less than this at exactly 0 or 1 have two ends to be outside of.
constexpr double closed_share = 0.001;
// A band narrower than some bins of the histogram is known no better than they are.
constexpr double least_width = 0.01;

bool holds_value(const Band& band, double value)
{
  return band.low <= value && value <= band.high;
}

double rank_of(const ShareHistogram& histogram, double value, PieceSource& source)
{
  const ShareHistogram::Place place = histogram.place_of(value);
  return place.below + source.uniform(0.0, 1.0) * place.within;
}

bool is_open(const ShareHistogram& histogram)
{
  return histogram.place_of(0.0).within < closed_share && histogram.place_of(1.0).within < closed_share;
}

std::array<int, reported.size()> constituents_reported(const Tables& tables)
{
  std::array<int, reported.size()> all{};
  std::transform(reported.begin(), reported.end(), all.begin(),
                 [&](const char* key) { return find_constituent(tables, key); });
  return all;
}

void count_probabilities(const Analysis& a, const SimulatedPiece& truth, const std::vector<int>& plausible,
                         const std::array<int, reported.size()>& constituents, Tally& tally)
{
  const auto& members = *a.members;
  const auto build = static_cast<std::size_t>(members[truth.member]->hypothesis.build);
  for (std::size_t b = 0; b < a.builds.size(); ++b) {
    tally.builds.add(a.builds[b], b == build);
  }
  for (std::size_t k = 0; k < plausible.size(); ++k) {
    const auto i = static_cast<std::size_t>(plausible[k]);
    if (k >= 5 && a.posterior[i] < 0.01) {
      break;
    }
    tally.candidates.add(a.posterior[i], i == truth.member);
    if (k == 0) {
      tally.first.add(a.posterior[i], i == truth.member);
    }
  }
  for (std::size_t k = 0; k < constituents.size(); ++k) {
    double none = 0.0;
    for (std::size_t i = 0; i < members.size(); ++i) {
      none += holds(members[i]->hypothesis, constituents[k]) ? 0.0 : a.posterior[i];
    }
    tally.none[k].add(none, !holds(members[truth.member]->hypothesis, constituents[k]));
  }
}

}  // namespace

Inferred inferred_piece(const Prepared& prepared, const Background& background, PieceSource& source)
{
  const Scale scale = scale_of(source.uniform(0.0, 1.0) < 0.5 ? ScaleClass::pocket : ScaleClass::jeweller);
  const double dry_g = std::exp(source.uniform(std::log(0.3), std::log(20.0)));
  // Coats are tabulated by size: the piece is drawn at the size of its table, as inference will read it.
  const auto& members = prepared.members(dry_g / 9.0);
  Inferred inferred;
  do {
    inferred.truth = source.draw(members, background.prior, scale, dry_g);
  } while (inferred.truth.density < 1.0 || inferred.truth.density > 22.0);
  inferred.piece.weighing = inferred.truth.weighing;
  Verdict& v = inferred.verdict;
  v.background = background;
  v.analysis = weigh_up(inferred.truth.weighing, 0.95);
  hold_against(v.analysis, members, background, false);
  add_mass_and_volume(inferred.piece, v);
  inferred.plausible = plausible_members(v.analysis);
  return inferred;
}

void count_piece(const Tables& tables, const Inferred& inferred, PieceSource& source, Tally& tally)
{
  const Analysis& a = inferred.verdict.analysis;
  const SimulatedPiece& truth = inferred.truth;
  tally.density.add(a.density.low <= truth.density && truth.density <= a.density.high);
  const auto constituents = constituents_reported(tables);
  count_probabilities(a, truth, inferred.plausible, constituents, tally);
  const ShareHistogram histogram = silver_fraction_of(a, inferred.plausible);
  const Band band = histogram.band(0.95);
  const double fraction = truth.fractions[constituents[0]];
  const double mass_g = inferred.verdict.mass_g;
  tally.batch_silver.add(holds_value(band, fraction));
  tally.batch_grams.add(
      holds_value({mass_g * band.median, mass_g * band.low, mass_g * band.high}, truth.mass_g * fraction));
  tally.batch_ranks.add(rank_of(histogram, fraction, source));
}

void count_fractions(const Tables& tables, Inferred& inferred, PieceSource& source, Tally& tally)
{
  Verdict& v = inferred.verdict;
  const std::vector<double>& fractions = inferred.truth.fractions;
  const auto constituents = constituents_reported(tables);
  const std::vector<ShareHistogram> histograms = fraction_histograms(tables, v.analysis, inferred.plausible);
  for (std::size_t k = 0; k < constituents.size(); ++k) {
    const double fraction = fractions[constituents[k]];
    tally.ranks[k].add(rank_of(histograms[constituents[k]], fraction, source));
    tally.bands[k].add(holds_value(histograms[constituents[k]].band(0.95), fraction));
  }
  add_candidates(tables, inferred.piece, {}, {static_cast<int>(inferred.truth.member)}, v);
  for (const FractionBand& band : v.candidates.front().fractions) {
    if (band.high - band.low > least_width) {
      tally.own.add(
          holds_value({band.best, band.low, band.high}, fractions[find_constituent(tables, band.constituent)]));
    }
  }
}

void count_open(const Tables& tables, const Inferred& inferred, std::size_t which, PieceSource& source, Tally& tally)
{
  const Verdict& v = inferred.verdict;
  const int constituent = constituents_reported(tables)[which];
  const double fraction = inferred.truth.fractions[constituent];
  const ShareHistogram histogram = fraction_histograms(tables, v.analysis, inferred.plausible)[constituent];
  if (!is_open(histogram)) {
    return;
  }
  const Band band = histogram.band(0.95);
  tally.open_bands[which].add(holds_value(band, fraction));
  tally.open_ranks[which].add(rank_of(histogram, fraction, source));
  if (which == 0) {
    tally.open_grams.add(holds_value(grams_of({v.mass_g, v.mass_u_g}, band, 0.95), inferred.truth.mass_g * fraction));
    tally.open_batch_silver.add(holds_value(silver_fraction_of(v.analysis, inferred.plausible).band(0.95), fraction));
  }
}

}  // namespace validation
