#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "bilancetta/claim.hpp"
#include "bilancetta/fit.hpp"
#include "bilancetta/learned_mix.hpp"
#include "bilancetta/next_test.hpp"
#include "bilancetta/reference.hpp"
#include "bilancetta/remedy.hpp"
#include "bilancetta/step_limits.hpp"

namespace bilancetta
{

/// What a buyer pays: price per gram of each metal, and the share of it that is paid.
struct Prices {
  std::map<std::string, double> per_g;
  double pays = 1.0;
  double hours = 0.0;  ///< of work, for the worth of one; 0: not said
};

inline constexpr double grams_per_troy_ounce = 31.1034768;

/// Whether tests that leave a mark may be proposed.
enum class Marks { by_place, never, always };

/// How a verdict is to be drawn up.
struct VerdictOptions {
  double level = 0.95;
  std::optional<Question> question;  ///< left out: the claim if there is one, else what is most in doubt
  Marks marks = Marks::by_place;
  Prices prices;
  PileThresholds piles;
  const LearnedMix* mix = nullptr;  ///< what the jar teaches, with the number of the row and its lot
  long row = 0;
  std::string lot;
  int threads = 1;  ///< that describe candidates; 0: as many as there are processors
};

/// Constituents whose fractions are always told of; others where they matter.
inline constexpr std::array<const char*, 5> reported_fractions = {"Ag", "Cu", "W", "CdO", "Ni"};

struct FractionBand {
  std::string constituent;
  double best = 0.0;  ///< of the fit
  double low = 0.0, high = 0.0;
};

/// One explanation of the piece.
struct Candidate {
  std::string words;                           ///< "fine silver face on electrolytic copper"
  std::string material, key, over, over_name;  ///< names and keys; over: core or carrier, or empty
  std::string group;
  Build build = Build::solid;
  Kind kind = Kind::solid;
  double probability = 0.0;
  double misfit = 0.0;
  bool fit_converged = false;
  int member = -1;                      ///< index among the members
  std::string told_by;                  ///< test that would best tell its family from the rest; of its first only
  double expected_reading_g = 0.0;      ///< what its typical density would have read
  std::vector<FractionBand> fractions;  ///< of the whole piece
  // Layered pieces: the coat or face, and what lies under it.
  bool both_faces = false;  ///< faced on both sides
  std::vector<FractionBand> face_fractions;
  Band face_mass_g, base_mass_g, thickness_um;
};

/// A family that was expected and does not fit.
struct RuledOut {
  std::string key, why;
};

/// What a piece on which the test drop does nothing may still be.
struct Remaining {
  std::string words;  ///< "solid tungsten"
  double probability = 0.0;
  std::string told_by;  ///< key of the test that would best tell it from the rest, or empty
};

struct CautionShown {
  std::string key;
  Urgency urgency = Urgency::note;
  std::string why, text;
  double probability = -1.0;  ///< below 0: a hazard of the place or of a test, no probability
  std::string source;         ///< title of the document that it rests on
};

/// Everything there is to say about one piece.
struct Verdict {
  Analysis analysis;
  Background background;
  std::vector<BudgetLine> budget;
  double mass_g = 0.0, mass_u_g = 0.0;  ///< of all pieces
  double volume_cm3 = 0.0, volume_u_cm3 = 0.0;
  std::vector<std::string> warnings;
  std::vector<Candidate> candidates;
  std::vector<RuledOut> ruled_out;
  std::vector<Remaining> remains;            ///< filled if a test drop did nothing
  std::map<std::string, Band> fractions;     ///< reported_fractions, and more where they matter
  std::map<std::string, Band> precious_g;    ///< precious_metals; of all pieces; none of hollow ware
  std::map<std::string, double> holds_none;  ///< of the same: the probability that there is none of it
  std::optional<Band> worth;
  Prices prices;  ///< that it was worked out with
  std::optional<ClaimVerdict> claim;
  std::optional<ReferenceCheck> reference;
  std::optional<OpenPores> open_pores;
  Remedy remedy;  ///< what would help the weighing most
  std::vector<CautionShown> cautions;
  Question asked = Question::build;  ///< what `next` is to answer
  std::vector<NextTest> next;
  Pile pile = Pile::undecided;
  std::string sentence, one_thing;  ///< first and last line of the text
  std::vector<std::string> why, conflicts;
  double leans_on_weight = 0.0, leans_on_tests = 0.0, leans_on_place = 0.0, leans_on_jar = 0.0;
};

/// The whole verdict of one piece. @throws Error for readings that cannot be used and unknown names.
Verdict verdict_of(const Prepared& prepared, const Piece& piece, const VerdictOptions& options);
/// The same when there is only one piece: hypotheses are prepared for its very size.
Verdict verdict_of(const Tables& tables, const Piece& piece, const VerdictOptions& options);

bool marks_allowed(const Tables& tables, const Piece& piece, Marks marks);

/// Mass and volume of the pieces, with their uncertainties.
void add_mass_and_volume(const Piece& piece, Verdict& verdict);

/// Pieces of a verdict that a batch row needs too.
std::vector<std::string> warnings_of(const Analysis& analysis, const Piece& piece);
/// That a drop was tried of which the tables know nothing, so that its answer is not used; else empty.
std::string unused_drop_words(const Tables& tables, const Answers& answers);
Pile pile_of(const Analysis& analysis, const PileThresholds& thresholds);
/// Keys of the cautions that belong to a test, with this drop.
std::vector<std::string> cautions_of_test(const BenchTest& test, const std::string& reagent);
std::vector<CautionShown> cautions_of(const Tables& tables, const Analysis& analysis, const Piece& piece);
/// Probability of each caution of the tables, as hazard_probability has it; of cadmium as counts_as_cadmium has it.
/// @param among  members that hold nearly all of the probability, or none: all. Where a jar has taught, always all
std::vector<double> hazard_probabilities(const Tables& tables, const Analysis& analysis,
                                         const std::vector<int>& among = {});
/// Adds to each why the material of the tables that it is likeliest to come with.
void name_carriers(const Tables& tables, const Analysis& analysis, std::vector<CautionShown>& shown);
/// Is the caution of that key among them for what the piece may be, and not for its place alone?
bool warns_of(const std::vector<CautionShown>& cautions, std::string_view key);
/// What the piece may still be put to.
StepLimits limits_of(const std::vector<CautionShown>& cautions);
/// A hazard this plausible is shown.
inline constexpr double caution_from = hazard_from.front();
/// Alcohol and its like (common practice, no source), and what is said of them.
inline constexpr double likely_burns_below_g_cm3 = 0.95;
inline constexpr std::string_view burning_liquid_warning =
    "A liquid so light is likely to burn: no flame near it, and fresh air. It must not meet the acid of a test "
    "drop: rinse the piece with water and dry it first, and collect the two apart.";
/// Like pieces to pool so that the displacement shows at least 20 steps of the scale; 1 if it does.
int pieces_to_pool(const Analysis& analysis, const Weighing& weighing);
/// Whether so many like pieces are to be weighed together before anything else: the density is rough and the scale too
/// coarse for fewer, and, unless a claim is asked after, no one hypothesis has nearly all of the probability.
bool must_be_pooled(const Analysis& analysis, const Piece& piece);

}  // namespace bilancetta
