#include "calibration_tally.hpp"

#include <algorithm>

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

std::array<int, reported.size()> reported_constituents(const Tables& tables)
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

void count_batch_silver(const Analysis& a, const SimulatedPiece& truth, const std::vector<int>& plausible, int silver,
                        double mass_g, PieceSource& source, Tally& tally)
{
  const ShareHistogram histogram = silver_fraction_of(a, plausible);
  const Band band = histogram.band(0.95);
  const double fraction = truth.fractions[silver];
  tally.batch_silver.add(holds_value(band, fraction));
  const Band grams = {mass_g * band.median, mass_g * band.low, mass_g * band.high};
  tally.batch_grams.add(holds_value(grams, truth.mass_g * fraction));
  tally.batch_ranks.add(rank_of(histogram, fraction, source));
}

// What a verdict says of fractions, averaged over hypotheses and given the true one.
void count_fractions(const Tables& tables, const Piece& piece, const SimulatedPiece& truth,
                     const std::vector<int>& plausible, const std::array<int, reported.size()>& constituents,
                     PieceSource& source, Verdict& v, Tally& tally)
{
  const std::vector<ShareHistogram> histograms = fraction_histograms(tables, v.analysis, plausible);
  for (std::size_t k = 0; k < constituents.size(); ++k) {
    const ShareHistogram& histogram = histograms[constituents[k]];
    const double fraction = truth.fractions[constituents[k]];
    const Band band = histogram.band(0.95);
    tally.ranks[k].add(rank_of(histogram, fraction, source));
    tally.bands[k].add(holds_value(band, fraction));
    if (is_open(histogram)) {
      tally.open_bands[k].add(holds_value(band, fraction));
      if (k == 0) {
        tally.grams_open.add(holds_value(grams_of(v, band), truth.mass_g * fraction));
      }
    }
  }
  add_candidates(tables, piece, 0.95, {static_cast<int>(truth.member)}, v);
  for (const FractionBand& band : v.candidates.front().fractions) {
    if (band.high - band.low > least_width) {
      tally.own.add(
          holds_value({band.best, band.low, band.high}, truth.fractions[find_constituent(tables, band.constituent)]));
    }
  }
}

}  // namespace

void try_piece(const Prepared& prepared, const Background& background, const Scale& scale, double dry_g, bool describe,
               PieceSource& source, Piece& piece, Tally& tally)
{
  const Tables& tables = prepared.tables();
  static const auto constituents = reported_constituents(tables);
  // Coats are tabulated by size: the piece is drawn at the size of its table, as inference will read it.
  const auto& members = prepared.members(dry_g / 9.0);
  const SimulatedPiece truth = source.draw(members, background.prior, scale, dry_g);
  if (truth.density < 1.0 || truth.density > 22.0) {
    return;
  }
  piece.weighing = truth.weighing;
  Verdict v;
  v.background = background;
  v.analysis = weigh_up(truth.weighing, 0.95);
  hold_against(v.analysis, members, background, false);
  tally.density.add(v.analysis.density.low <= truth.density && truth.density <= v.analysis.density.high);
  const std::vector<int> plausible = plausible_members(v.analysis);
  if (plausible.empty()) {
    return;
  }
  add_mass_and_volume(piece, v);
  count_probabilities(v.analysis, truth, plausible, constituents, tally);
  count_batch_silver(v.analysis, truth, plausible, constituents[0], v.mass_g, source, tally);
  if (describe) {
    count_fractions(tables, piece, truth, plausible, constituents, source, v, tally);
  }
}

}  // namespace validation
