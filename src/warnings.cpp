#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "bilancetta/verdict.hpp"
#include "words.hpp"

namespace bilancetta
{

int pieces_to_pool(const Analysis& analysis, const Weighing& weighing)
{
  return pieces_to_pool(analysis.density, weighing);
}

bool must_be_pooled(const Analysis& analysis, const Piece& piece)
{
  constexpr double settled_from = 0.95;  // judgement
  return is_rough(analysis.density) && pieces_to_pool(analysis, piece.weighing) > piece.weighing.count &&
         (!piece.claim.empty() || std::none_of(analysis.posterior.begin(), analysis.posterior.end(),
                                               [](double p) { return p >= settled_from; }));
}

namespace
{

constexpr double of_a_sphere = 4.836;  // its surface by its volume^(2/3), the least there is

// Repeats that are all the same, run one way, or lie further apart than the scale's noise explains.
void add_repeat_warnings(const Weighing& w, std::vector<std::string>& warnings)
{
  constexpr double far_beyond = 3.0;  // three repeats are sorted by chance once in three
  struct Repeats {
    const char* name;
    const char* drifts;
    const std::vector<double>* readings;
    const Scale* scale;
  };
  constexpr const char* in_liquid = "The repeats in the liquid";
  constexpr const char* leaves = "bubbles that leave, water that evaporates";
  const Repeats all[] = {{"The dry repeats", "a piece that is still wet or drying", &w.readings.dry_g, &w.scale},
                         {in_liquid, leaves, &w.readings.rise_g, &liquid_scale_of(w)},
                         {in_liquid, leaves, &w.readings.submerged_g, &liquid_scale_of(w)}};
  for (const auto& [name, drifts, repeats, scale] : all) {
    if (repeats->size() < 2) {
      continue;
    }
    const auto [lowest, highest] = std::minmax_element(repeats->begin(), repeats->end());
    const double spread = *highest - *lowest;
    const double explained = explained_spread_g(*scale);
    const bool sorted =
        std::is_sorted(repeats->begin(), repeats->end()) || std::is_sorted(repeats->rbegin(), repeats->rend());
    if (spread == 0.0 && repeats->size() >= 3) {
      warnings.push_back(
          fmt::format("{} are all the same: together they are no finer than one step of the scale.", name));
    } else if (repeats->size() >= 3 && sorted && spread < far_beyond * explained &&
               spread > scale->readability_g + 2.0 * scale->repeatability_g) {
      warnings.push_back(fmt::format(
          "{} run one way: {} or a scale that still warms up. Let it settle and weigh again.", name, drifts));
    } else if (spread > explained) {
      warnings.push_back(
          fmt::format("{} lie {} g apart, more than this scale's repeatability of {} g explains: see whether one is "
                      "another piece's or mistyped and what moved, or give the true repeatability.",
                      name, significant(spread, 3), significant(scale->repeatability_g, 6)));
    }
  }
}

// Rims, domes and rivets make a piece a little more or less than a disc; a slip of the pen makes it another piece.
void add_disc_warning(const Analysis& a, const Weighing& w, std::vector<std::string>& warnings)
{
  constexpr double at_most = 1.6;  // judgement
  if (!w.disc_cm3 || !a.density.possible || !a.density.bounded) {
    return;
  }
  const double dry = displacement_of(w.readings).dry_g / w.count;
  const double least = dry / a.density.high / at_most;
  const double most = dry / a.density.low * at_most;
  if (*w.disc_cm3 < least || *w.disc_cm3 > most) {
    warnings.push_back(
        fmt::format("A disc of that size has {} cm3, but the liquid says {} cm3: check the diameter, the "
                    "thickness and the readings.",
                    significant(*w.disc_cm3, 2), significant(volume_each_cm3(a, w), 2)));
  }
}

// Centimetres for millimetres, a slip of the pen: a layer with nothing left under it.
void add_layer_warning(const Analysis& a, const Piece& piece, std::vector<std::string>& warnings)
{
  const Weighing& w = piece.weighing;
  if (!piece.layer_mm || !a.density.possible) {
    return;
  }
  const double layer_cm = 0.1 * *piece.layer_mm;
  const double most_cm3 = displacement_of(w.readings).dry_g / a.density.low / w.count;
  const double least_face_cm2 = 0.5 * of_a_sphere * std::pow(most_cm3, 2.0 / 3.0);
  const bool fills = layer_cm * w.face_cm2.value_or(least_face_cm2) > most_cm3;
  const bool through = w.disc_cm3 && layer_cm * *w.face_cm2 > *w.disc_cm3;
  if (fills || through) {
    warnings.push_back(fmt::format("A layer of {} mm is more than this piece is thick: check --layer-mm (mm).",
                                   significant(*piece.layer_mm, 3)));
  }
}

// Sizes that no body of that volume has: square millimetres for square centimetres, a slip of the pen.
void add_area_warning(const Analysis& a, const Weighing& w, std::vector<std::string>& warnings)
{
  constexpr double of_thin_sheet = 100.0;  // 1/cm: 0.2 mm, or wire of 0.4 mm
  if (!w.area_cm2 || !a.density.possible) {
    return;
  }
  const Displacement d = displacement_of(w.readings);
  const double dry = d.dry_g / w.count;
  const double read_cm3 =
      std::max(d.displaced_g, liquid_scale_of(w).readability_g) / liquid_density_of(w.surroundings).g_cm3 / w.count;
  if (*w.area_cm2 > of_thin_sheet * read_cm3) {
    warnings.push_back(fmt::format(
        "{} cm2 on {} cm3 would be a sheet of {} mm: check the area (cm2) and the lengths "
        "(mm), since so large a surface is taken to hold many bubbles.",
        significant(*w.area_cm2, 3), significant(read_cm3, 2), significant(20.0 * read_cm3 / *w.area_cm2, 2)));
  }
  const double least = of_a_sphere * std::pow(dry / a.density.high, 2.0 / 3.0);
  if (a.density.bounded && *w.area_cm2 < 0.9 * least) {
    warnings.push_back(
        fmt::format("A piece of {} cm3 has at least {} cm2 of surface, not {} cm2: check the area, so that "
                    "bubbles are not reckoned too small.",
                    significant(volume_each_cm3(a, w), 2), significant(least, 2), significant(*w.area_cm2, 2)));
  }
}

void add_pores_warning(const Weighing& w, std::vector<std::string>& warnings)
{
  constexpr double most = 0.4;  // pressed and sintered parts stay below (common practice, no source)
  if (w.readings.soaked_g && open_pores_of(w).share > most) {
    warnings.emplace_back(
        "So much of a sintered part is hardly ever open: check the soaked weight, and blot the piece before it.");
  }
}

// Counterweights and shielding (common practice, no source). Uranium has 19.05 g/cm3 (CRC Handbook of Chemistry and
// Physics; from memory), its alloys a little less; the limits are judgement.
void add_uranium_warning(const Analysis& a, const Weighing& w, std::vector<std::string>& warnings)
{
  constexpr double lightest = 18.6;
  constexpr double heaviest = 19.1;
  constexpr double heavy_piece_g = 50.0;
  if (a.density.possible && a.density.bounded && a.density.low <= heaviest && a.density.high >= lightest &&
      displacement_of(w.readings).dry_g / w.count >= heavy_piece_g) {
    warnings.emplace_back(
        "A heavy dark weight of this density may be depleted uranium, which the tables do not hold: if it bears a "
        "radiation label or comes from a counterweight or shielding, neither file it nor try a drop on it, and ask "
        "your state or national radiation office.");
  }
}

// What gives a density below that of any metal, and a weight that no small piece has. Magnesium, the lightest metal
// that is used for itself, has 1.74 g/cm3 (CRC Handbook of Chemistry and Physics; from memory); the limits are
// judgement.
void add_slip_warnings(const Analysis& a, const Piece& piece, std::vector<std::string>& warnings)
{
  constexpr double lighter_than_metal = 1.5;
  constexpr double unusual_g = 1000.0;
  const Weighing& w = piece.weighing;
  const double each_g = displacement_of(w.readings).dry_g / w.count;
  if (a.density.possible && !a.explained && a.density.high < lighter_than_metal && piece.context.form == Form::solid &&
      !rests_on_the_bottom(w)) {
    warnings.push_back(fmt::format(
        "No solid metal is so light: look for air that clings to the piece, a piece that touched the cup, a reading "
        "that is not in grams (mg, ct, oz, dwt){} and a liquid that is not the one that was told.",
        w.count > 1 ? fmt::format(" or not of all {} pieces", w.count) : ""));
  }
  if (each_g >= unusual_g && piece.doubts.empty()) {  // a point that is missing is told of already
    warnings.push_back(
        fmt::format("{} g is much for one piece: if the scale showed milligrams, grains or carats, give grams (1 g is "
                    "1000 mg, 15.43 gr or 5 ct).",
                    significant(each_g, 4)));
  }
}

}  // namespace

std::vector<std::string> warnings_of(const Analysis& a, const Piece& piece)
{
  const Weighing& w = piece.weighing;
  std::vector<std::string> warnings = piece.doubts;
  const Displacement d = displacement_of(w.readings);
  const double steps = d.displaced_g / liquid_scale_of(w).readability_g;
  const bool seen = steps >= steps_seen;
  const bool outside = d.displaced_g > 0.0 &&
                       (a.density.plain > density_grid::highest_g_cm3 || a.density.plain < density_grid::lowest_g_cm3);
  if (!a.density.possible || (outside && seen)) {
    warnings.push_back(fmt::format(
        "The readings give {}, and no metal weighs that: check the tare, that both readings are in their places, in "
        "grams (not mg, ct, oz or dwt){}, and that the liquid covered the piece.",
        d.displaced_g > 0.0 ? significant(a.density.plain, 3) + " g/cm3"
                            : std::string("a piece that displaces nothing"),
        w.count > 1 ? fmt::format(" and of all {} pieces", w.count) : ""));
  } else if (!a.density.bounded && !seen) {
    warnings.push_back(fmt::format(
        "The scale cannot see what this piece displaces: all it says is a density above {} g/cm3. Weigh about {} like "
        "pieces together.",
        low_end(a.density.low, 1), pieces_to_pool(a, w)));
  } else if (!seen) {
    warnings.push_back(fmt::format(
        "The piece displaces only {:.0f} steps of this scale, so the density is rough. Weigh about {} like pieces "
        "together, or use a finer scale.",
        std::max(steps, 0.0), pieces_to_pool(a, w)));
  }
  if (rests_on_the_bottom(w)) {
    warnings.emplace_back(
        "The rise equals the dry weight: the piece seems to rest on the bottom of the cup instead of hanging.");
  }
  add_slip_warnings(a, piece, warnings);
  add_repeat_warnings(w, warnings);
  add_disc_warning(a, w, warnings);
  add_layer_warning(a, piece, warnings);
  add_area_warning(a, w, warnings);
  add_pores_warning(w, warnings);
  add_uranium_warning(a, w, warnings);
  return warnings;
}

std::string unused_drop_words(const Tables& tables, const Answers& answers)
{
  const bool tried = std::any_of(answers.given.begin(), answers.given.end(),
                                 [&](const auto& given) { return is_drop(test_called(tables, given.first)); });
  return tried && answers.reagent == "other"
             ? "What other drops show on which metal is not known here: the answer to the drop is not used."
             : "";
}

}  // namespace bilancetta
