#include "bilancetta/mixed_verdict.hpp"

#include <fmt/core.h>

#include "sentence.hpp"

namespace bilancetta
{

namespace
{

bool reads_like(const DensityCurve& curve, const MixtureRange& range)
{
  constexpr double least = 0.036;  // of the highest likelihood: 2.6 standard uncertainties off
  const double difference = curve.liquid_g_cm3 - curve.air_g_cm3;
  const double first = difference / (range.heaviest - curve.air_g_cm3) - curve.share_step;
  const double last = difference / (range.lightest - curve.air_g_cm3) + curve.share_step;
  for (std::size_t point = 0; point < curve.likelihood.size(); ++point) {
    const double share = curve.share_at(static_cast<double>(point));
    if (share >= first && share <= last && curve.likelihood[point] >= least) {
      return true;
    }
  }
  return false;
}

// Denser than the middle of all metals: what is wrong is not a bubble or a hollow.
bool is_heavy(const DensitySummary& density)
{
  constexpr double middle_g_cm3 = 10.0;  // judgement
  return density.value > middle_g_cm3;
}

}  // namespace

Analysis weigh_up_mixed(const MixtureRange& range, const Piece& piece, double level)
{
  Analysis analysis = weigh_up(piece.weighing, level);
  const double lightest = piece.context.is_hollow_ware() ? density_grid::lowest_g_cm3 : range.lightest;
  analysis.explained = analysis.density.possible && reads_like(analysis.curve, {lightest, range.heaviest});
  return analysis;
}

std::string mixed_sentence(const Analysis& analysis)
{
  if (analysis.explained) {
    return "Unlike pieces weighed together: only their mean density is known, and it names no metal.";
  }
  if (std::string none = no_metal_words(analysis); !none.empty()) {
    return none;
  }
  return fmt::format(
      "Nothing in the tables, alone or mixed, has a density of {} g/cm3: {}", density_text(analysis.density),
      is_heavy(analysis.density)
          ? "check the tare, and that the dry weight and the reading in water are each in their place."
          : "think of hollow pieces or clinging bubbles, a wrong tare, or a material that is not in the tables.");
}

std::vector<std::string> mixed_warnings_of(const Analysis& analysis, const Piece& piece)
{
  std::vector<std::string> warnings = warnings_of(analysis, piece);
  if (!piece.claim.empty()) {
    warnings.emplace_back("A claim cannot be checked on unlike pieces: weigh them one by one.");
  }
  if (!piece.lot.empty()) {
    warnings.emplace_back("Unlike pieces are no lot: they count as a heap of their own.");
  }
  if (piece.reference_density_g_cm3 || piece.reference_mass_g) {
    warnings.emplace_back("A known density or mass belongs to one known piece: of unlike ones it is not used.");
  }
  return warnings;
}

std::string mixed_next_step(const Analysis& analysis)
{
  if (analysis.explained) {
    return "Sort them by looks and with a magnet, and weigh like pieces together. What is joined is one piece: weigh "
           "it without --mixed.";
  }
  return !analysis.density.possible || is_heavy(analysis.density)
             ? std::string(tare_again_words)
             : "Weigh them once more, with no bubbles on them (in water a drop of soap helps), and check the tare.";
}

}  // namespace bilancetta
