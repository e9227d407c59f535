#pragma once

#include <algorithm>
#include <array>
#include <optional>
#include <string>
#include <vector>

#include "bilancetta/posterior.hpp"

namespace bilancetta
{

/// One weighing and what else is known of the piece.
struct Piece {
  std::string name;
  Weighing weighing;
  Context context;
  std::string claim;                              ///< key or other name of a claim; empty if none
  std::optional<double> reference_density_g_cm3;  ///< this is a piece of known density: a check of the bench
  double reference_u_g_cm3 = 0.02;                ///< its standard uncertainty
  std::optional<double> reference_mass_g;         ///< this is a piece of known mass, all pieces together
  std::string lot;                                ///< rows of one lot are the same material; empty if not said
  std::optional<double> layer_mm;                 ///< thickness of the face, seen at the edge
  std::vector<std::string> doubts;                ///< of the numbers as typed, told among the warnings
};

/// What a context makes of the members before any weight is seen; shared by all pieces with that
/// context.
struct Background {
  std::vector<double> prior;
  std::vector<double> test_likelihood;
  bool hollow = false;  ///< known to be hollow or filled: then that explains a light piece
};
Background background_of(const Prepared& prepared, const Members& members, const Context& context);

/// One weighing held against every hypothesis.
struct Analysis {
  DensityCurve curve;
  DensitySummary density;
  LevelWeights weights;     ///< the curve as evidence takes it
  double read_share = 0.0;  ///< displaced / dry of the mean readings
  const Members* members = nullptr;
  std::vector<double> evidence;
  std::vector<double> posterior;
  std::vector<double> untaught;    ///< the posterior before the jar taught it; empty if it did not
  std::array<double, 4> builds{};  ///< probability of each Build
  double misfit_tail = 0.0;        ///< largest prior predictive tail of the named hypotheses, if searched for
  bool explained = true;           ///< misfit_tail at least 1 %
};

/// Does a member count as cadmium? Also the open mix, which always holds some, when nothing named explains the piece.
[[nodiscard]] inline bool counts_as_cadmium(const Analysis& analysis, std::size_t which)
{
  return analysis.members->traits(which).carries_cadmium ||
         (!analysis.explained && (*analysis.members)[which]->hypothesis.kind == Kind::open_mix);
}

/// Probability of those members that `counts` (a hazard's). What else lies in a jar is no reason to fear a piece less:
/// where the jar taught the posterior, the larger of both is taken.
template <typename Counts>
double hazard_probability(const Analysis& analysis, Counts counts)
{
  double taught = 0.0;
  double untaught = 0.0;
  for (std::size_t i = 0; i < analysis.posterior.size(); ++i) {
    if (counts(i)) {
      taught += analysis.posterior[i];
      untaught += analysis.untaught.empty() ? 0.0 : analysis.untaught[i];
    }
  }
  return std::max(taught, untaught);
}

/// Density and size of the piece, the first step; throws Error as check(weighing).
Analysis weigh_up(const Weighing& weighing, double level);
/// No tail of a member's readings (Predictive::tail_at) exceeds this: the height of what it predicts here times the
/// width of all that it predicts. To be asked of an analysis that was held against its members.
double highest_possible_tail(const Analysis& analysis, std::size_t member);
/// Volume of one piece by the curve, cm3; from the middle of the range if the readings are impossible.
double volume_each_cm3(const Analysis& analysis, const Weighing& weighing);
/// Volume of a piece of the usual shape that has as much surface for its volume as one of these: that by which
/// Prepared::members finds coats, cm3.
double coat_volume_cm3(const Analysis& analysis, const Weighing& weighing);
/// The reading a piece of this density would have shown instead of the second one, g, with the mean of all errors that
/// the density allows for.
double expected_reading_g(const Analysis& analysis, const Weighing& weighing, double density_g_cm3);
/// Adds evidence, posterior, builds and whether anything explains the piece. With `full_tail` the largest tail is
/// searched for; else the search stops at the first hypothesis that surely explains the piece.
void hold_against(Analysis& analysis, const Members& members, const Background& background, bool full_tail);

/// Osmium has 22.59, iridium 22.56 (CRC Handbook of Chemistry and Physics; from memory).
inline constexpr double heaviest_metal_g_cm3 = 22.6;
/// Whether no metal gives such readings, after hold_against: they are lighter or heavier than any, and say nothing of
/// what the piece is. It has then no posterior.
inline bool no_metal_weighs_so(const Analysis& analysis)
{
  return !analysis.density.possible || (!analysis.explained && analysis.density.value > heaviest_metal_g_cm3);
}

/// Its likeliest members (likeliest_of).
inline std::vector<int> plausible_members(const Analysis& analysis, double coverage = 0.9995)
{
  return likeliest_of(analysis.posterior, coverage);
}

/// A draw as a weighing leaves it: its mass, and where that lies on the way to the next draw (0 to 1).
struct WeighedDraw {
  int draw = 0;
  float along = 0.0F, mass = 0.0F;
};
/// The draws of a member after the weighing: their own masses times the curve smoothed with the member's scatter,
/// averaged over the densities from each draw to the next. Masses sum to 1; empty if nothing is left.
class DrawWeights
{
 public:
  /// @param members  positions among the analysis' of those that will be asked for
  DrawWeights(const Analysis& analysis, const std::vector<int>& members);
  /// The same for members of one scatter.
  DrawWeights(const DensityCurve& curve, double scatter);
  [[nodiscard]] std::vector<WeighedDraw> of(const Member& member) const;

 private:
  /// The smoothed curve at parts of the grid's spacing from `first` of these on, and its integral and first moment up
  /// to each.
  struct Smoothed {
    double scatter = 0.0;
    int first = 0;
    std::vector<double> value, integral, moment;
    double sd = 0.0;  ///< of the smoothed curve, in parts
    struct Part {
      double integral, moment;
    };
    /// Both up to a place between its ends.
    [[nodiscard]] Part up_to(double at) const;
  };
  [[nodiscard]] const Smoothed* smoothed_for(double scatter) const;
  static Smoothed smoothed_by(double scatter, const GridFunction& weights);
  std::vector<Smoothed> known_;
};

/// Silver fraction of the whole piece, averaged over hypotheses; needs Prepared(tables) for all sizes. The probability
/// of silver that `plausible` leaves out stands at 0 and again at 1, so that a band is rather too wide.
/// @param each  if given, receives the moments of each plausible hypothesis
ShareHistogram silver_fraction_of(const Analysis& analysis, const std::vector<int>& plausible,
                                  std::vector<ShareMoments>* each = nullptr);
/// Those moments alone.
std::vector<ShareMoments> silver_moments_of(const Analysis& analysis, const std::vector<int>& plausible);

}  // namespace bilancetta
