#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "bilancetta/error.hpp"
#include "bilancetta/weighing.hpp"
#include "displacement_errors.hpp"
#include "words.hpp"

namespace bilancetta
{

namespace
{

[[noreturn]] void refuse(const char* field, const std::string& message, ErrorCode code = ErrorCode::bad_reading)
{
  throw Error(code, message, {.field = field});
}

void require_weight(const char* field, double value)
{
  if (!std::isfinite(value) || std::abs(value) > heaviest_g) {
    refuse(field, fmt::format("{} is not a weight in grams (at most {:.0f} is expected)", value, heaviest_g));
  }
}

void require_between(const char* field, double value, double low, double high, const char* what)
{
  if (!(value >= low && value <= high)) {
    refuse(field,
           fmt::format("{} is outside {} to {}; {}", significant(value, 9), significant(low, 6), significant(high, 6),
                       what),
           ErrorCode::bad_option);
  }
}

void check_scale(const Scale& scale)
{
  require_between("readability_g", scale.readability_g, 1e-7, 10.0, "give the smallest step of the display in grams");
  require_between("repeatability_g", scale.repeatability_g, 0.0, 10.0, "give a standard deviation in grams");
  require_between("linearity_g", scale.linearity_g, 0.0, 10.0, "give the bound on the scale's error in grams");
  require_between("drift_g", scale.drift_g, 0.0, 10.0, "give the bound on the change of zero in grams");
}

void check_surroundings(const Surroundings& s)
{
  require_between("water_c_u", s.water_c_u, 0.0, 15.0, "give a standard uncertainty in kelvin");
  require_between("thread_mm", s.thread_mm, 0.0, 5.0, "a suspension thicker than that spoils any small weighing");
  require_between("cup_mm", s.cup_mm, 5.0, 1000.0, "give the cup's inner diameter in millimetres");
  require_between("evaporation_g", s.evaporation_g, 0.0, 1.0,
                  "give the most that evaporates while you weigh, in grams");
  if (s.liquid_density_g_cm3) {
    require_between("liquid_density", *s.liquid_density_g_cm3, 0.5, 4.0, "give the liquid's density in g/cm3");
    require_between("liquid_density_u", s.liquid_density_u_g_cm3, 0.0, 0.2, "give a standard uncertainty in g/cm3");
  }
}

// What to ask of several pieces: one of them, weighed dry, and all of them hung in the liquid look like a mix-up.
std::string of_all_pieces(const Weighing& weighing)
{
  return weighing.count > 1 ? fmt::format(" With {} pieces both readings are of all of them: was one reading of fewer?",
                                          weighing.count)
                            : "";
}

// Readings of a metal (2.5 to 22 g/cm3) in water: a rise is 0.045-0.40 of the dry weight, a submerged weight 0.60-0.955
// of it; the ranges do not overlap, so the other one typed is recognised. In another liquid rises are as many times
// larger as it is denser; from 1.25 g/cm3 on the ranges overlap.
void check_mix_up(const Weighing& weighing, Way way)
{
  const Displacement d = displacement_of(weighing.readings);
  const double typed = way == Way::submerged ? d.dry_g - d.displaced_g : d.displaced_g;
  const double ratio = typed / d.dry_g;
  const bool clear = std::abs(typed - 0.5 * d.dry_g) >
                     5.0 * std::max(weighing.scale.readability_g, liquid_scale_of(weighing).readability_g);
  if (weighing.as_typed || way == Way::bottle || !clear) {
    return;
  }
  const double liquid = weighing.surroundings.liquid_density_g_cm3.value_or(1.0);
  const double least_rise = 0.04 * liquid;
  const double most_rise = 0.40 * liquid;
  const double light = 0.60 * liquid;  // the rise of what is lighter than any common metal
  const bool apart = most_rise < 0.5;
  if (way == Way::rise && ratio > 1.02) {
    refuse("rise_g",
           fmt::format("{} g is more than the dry weight {} g: only what floats rises so. Are the two swapped? "
                       "Was the cup not tared? Is one of them not in grams?{} Insist with --as-typed",
                       significant(typed, 6), significant(d.dry_g, 6), of_all_pieces(weighing)));
  }
  if (apart && way == Way::rise && ratio >= std::max(light, 1.0 - most_rise) && ratio <= 1.0 - least_rise) {
    refuse(
        "rise_g",
        fmt::format("{} g is {:.0f} % of the dry weight: that is what a metal weighs hung in water, not what the cup "
                    "gains.{} Give it as the submerged weight, or insist with --as-typed",
                    significant(typed, 6), 100 * ratio, of_all_pieces(weighing)),
        ErrorCode::readings_mixed_up);
  }
  if (apart && way == Way::submerged && ratio >= least_rise && ratio <= std::min(most_rise, 1.0 - light)) {
    refuse("submerged_g",
           fmt::format("{} g is {:.0f} % of the dry weight: that is what a cup of water gains, not what a metal weighs "
                       "hung in water.{} Give it as the rise, or insist with --as-typed",
                       significant(typed, 6), 100 * ratio, of_all_pieces(weighing)),
           ErrorCode::readings_mixed_up);
  }
}

// Square millimetres for square centimetres, a slip of the pen: the bubbles of such a surface would drown the piece.
void check_area(const Weighing& weighing)
{
  constexpr double most_cm2_a_gram = 400.0;  // a foil of 0.006 mm of copper, of 0.02 mm of aluminium
  const double most = most_cm2_a_gram * displacement_of(weighing.readings).dry_g / weighing.count;
  if (weighing.area_cm2 && !(*weighing.area_cm2 <= most)) {
    refuse("area_cm2", fmt::format("{} cm2 is no surface of {} g of metal (at most {} cm2, the thinnest foil); "
                                   "give area in cm2 and lengths in mm",
                                   significant(*weighing.area_cm2, 6),
                                   significant(displacement_of(weighing.readings).dry_g / weighing.count, 3),
                                   significant(most, 4)));
  }
}

double variance_of_one(const Scale& s)
{
  return s.readability_g * s.readability_g / 12 + s.repeatability_g * s.repeatability_g +
         (s.linearity_g * s.linearity_g + s.drift_g * s.drift_g) / 3;
}

// A displacement below zero is refused when steps and noise of the scales, with what thread, evaporation and filling
// do, explain it less than once in 1000.
void check_displacement(const Weighing& weighing, Way way)
{
  const Displacement d = displacement_of(weighing.readings);
  if (d.displaced_g >= 0.0) {
    return;
  }
  const Scale& scale = liquid_scale_of(weighing);
  const bool two_numbers = way == Way::bottle || weighing.readings.cup_before_g || weighing.readings.holder_g;
  const double of_dry = way == Way::rise ? 0.0 : variance_of_one(weighing.scale);
  const DisplacementErrors e = displacement_errors_of(weighing, d, liquid_density_of(weighing.surroundings),
                                                      air_density_g_cm3(weighing.surroundings.air));
  const double u = std::sqrt((two_numbers ? 2.0 : 1.0) * variance_of_one(scale) + of_dry);
  const double limit = 3.1 * std::hypot(u, e.normal_u_g()) +
                       (counts_from_rounded_tare(weighing) ? 1.0 : 0.5) * scale.readability_g +
                       std::max(e.shift_g, 0.0) + e.thread_half_width_g + e.evaporation_half_width_g;
  if (d.displaced_g < -limit) {
    refuse(way == Way::submerged           ? "submerged_g"
           : way == Way::bottle            ? "bottle_with_piece_g"
           : weighing.readings.cup_after_g ? "cup_after_g"
                                           : "rise_g",
           way == Way::submerged
               ? fmt::format("it seems to weigh {} g more in the liquid than dry; more than such a weighing can err "
                             "({} g). Are the two swapped? Was the tare right?{}",
                             significant(-d.displaced_g, 6), significant(limit, 2), of_all_pieces(weighing))
               : fmt::format("the piece seems to displace {} g of liquid; less than zero by more than such a "
                             "weighing can err ({} g). Was the tare right, and are the readings in the right places?",
                             significant(d.displaced_g, 6), significant(limit, 2)));
  }
}

// Of the water that a wiped piece holds: two numbers of one scale, and what wiping leaves on its surface or draws out.
double water_u_g(const Weighing& weighing, double solid_cm3)
{
  constexpr double wiped_half_width_g_cm2 = 0.0005;  // a film of 0.005 mm (judgement)
  const double film = wiped_half_width_g_cm2 * surface_cm2(weighing, solid_cm3);
  return std::sqrt(2.0 * variance_of_one(weighing.scale) + film * film / 3.0);
}

}  // namespace

Way way_of(const Readings& r)
{
  const bool rise = !r.rise_g.empty();
  const bool cup = r.cup_before_g.has_value() || r.cup_after_g.has_value();
  const bool submerged = !r.submerged_g.empty();
  const bool bottle = r.bottle_full_g.has_value() || r.bottle_with_piece_g.has_value();
  const int given = int{rise} + int{cup} + int{submerged} + int{bottle};
  if (given == 0) {
    refuse("rise_g",
           "no weighing in liquid is given; give what the cup of water gained (rise), the submerged weight, or the two "
           "bottle readings",
           ErrorCode::bad_option);
  }
  if (given > 1) {
    refuse("rise_g", "more than one way of weighing is given (rise, cup before/after, submerged, bottle); keep one",
           ErrorCode::bad_option);
  }
  if (cup && !(r.cup_before_g && r.cup_after_g)) {
    refuse("cup_after_g", "cup before and cup after go together; give both", ErrorCode::bad_option);
  }
  if (bottle && !(r.bottle_full_g && r.bottle_with_piece_g)) {
    refuse("bottle_with_piece_g", "bottle full and bottle with piece go together; give both", ErrorCode::bad_option);
  }
  if (r.holder_g && !submerged) {
    refuse("holder_g", "a holder's reading goes with a submerged weight; leave it out", ErrorCode::bad_option);
  }
  if (r.cup_resting_g && (submerged || bottle)) {
    refuse("cup_resting_g", "a piece at rest in the cup goes with a rise; leave it out", ErrorCode::bad_option);
  }
  return submerged ? Way::submerged : bottle ? Way::bottle : Way::rise;
}

void check(const Weighing& weighing)
{
  const Readings& r = weighing.readings;
  if (r.dry_g.empty()) {
    refuse("dry_g", "no dry weight is given; weigh the dry piece first", ErrorCode::bad_option);
  }
  const Way way = way_of(r);
  for (const double value : r.dry_g) {
    require_weight("dry_g", value);
    // A display rounds what is lighter than half its step to zero.
    const double least = std::max(lightest_g, 0.5 * weighing.scale.readability_g);
    if (value < least) {
      refuse("dry_g", fmt::format("{} g; a dry weight of {} g or more is expected on this scale", significant(value, 6),
                                  significant(least, 6)));
    }
  }
  for (const double value : r.rise_g) {
    require_weight("rise_g", value);
  }
  for (const double value : r.submerged_g) {
    require_weight("submerged_g", value);
  }
  const std::pair<const char*, std::optional<double>> singles[] = {
      {"cup_before_g", r.cup_before_g},   {"cup_after_g", r.cup_after_g},
      {"cup_resting_g", r.cup_resting_g}, {"holder_g", r.holder_g},
      {"bottle_full_g", r.bottle_full_g}, {"bottle_with_piece_g", r.bottle_with_piece_g}};
  for (const auto& [field, value] : singles) {
    if (value) {
      require_weight(field, *value);
    }
  }
  require_between("count", weighing.count, 1, 1000000, "give how many pieces lie on the pan");
  check_scale(weighing.scale);
  check_scale(liquid_scale_of(weighing));
  require_between("span_u", weighing.span_u, 0.0, 0.1, "give the relative standard uncertainty of a scale's span");
  if (r.soaked_g) {
    static_cast<void>(open_pores_of(weighing));
  }
  const std::pair<const char*, std::optional<double>> fillings[] = {{"bottle_c", r.bottle_c},
                                                                    {"bottle_with_piece_c", r.bottle_with_piece_c}};
  for (const auto& [field, temperature] : fillings) {
    if (temperature) {
      require_between(field, *temperature, 0.0, 40.0, "give the temperature of the filling in C");
    }
  }
  check_surroundings(weighing.surroundings);
  check_area(weighing);
  check_mix_up(weighing, way);
  check_displacement(weighing, way);
}

OpenPores open_pores_of(const Weighing& weighing, double displaced_u_g)
{
  const Displacement d = displacement_of(weighing.readings);
  const double soaked = *weighing.readings.soaked_g;
  const double water = soaked - d.dry_g;  // in the pores
  require_weight("soaked_g", soaked);
  const double error =
      2.0 * (weighing.scale.readability_g + weighing.scale.linearity_g) + 4.0 * weighing.scale.repeatability_g;
  if (d.displaced_g <= 0.0) {
    refuse("soaked_g",
           fmt::format("the readings show no displacement ({} g), of which pores would be a share; check the "
                       "reading in the liquid, or leave the soaked weight out",
                       significant(d.displaced_g, 6)));
  }
  if (water < -error) {
    refuse("soaked_g", fmt::format("{} g is less than the dry weight {} g; weigh the piece wet, its surface "
                                   "just wiped, after it has soaked",
                                   significant(soaked, 6), significant(d.dry_g, 6)));
  }
  const double whole = d.displaced_g + std::max(water, 0.0);  // W - S
  if (water > 0.9 * whole) {
    refuse("soaked_g", fmt::format("{} g: pores of {:.0f} % are no piece of metal; was it wiped?",
                                   significant(soaked, 6), 100 * water / whole));
  }
  const double liquid = liquid_density_of(weighing.surroundings).g_cm3;
  const double air = air_density_g_cm3(weighing.surroundings.air);
  // Mass of the dry piece over its whole volume: (D + rho_a V_solid) (rho_l - rho_a) / (W - S).
  const double solid_volume = d.displaced_g / (liquid - air);
  OpenPores pores;
  pores.bulk_g_cm3 = (d.dry_g + air * solid_volume) * (liquid - air) / whole;
  pores.share = std::max(water, 0.0) / whole;
  const double water_u = water_u_g(weighing, solid_volume);
  pores.bulk_u_g_cm3 = pores.bulk_g_cm3 * std::hypot(water_u, displaced_u_g) / whole;
  pores.share_u = std::hypot((1.0 - pores.share) * water_u, pores.share * displaced_u_g) / whole;
  return pores;
}

}  // namespace bilancetta
