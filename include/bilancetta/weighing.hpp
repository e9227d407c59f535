#pragma once

#include <array>
#include <optional>
#include <string_view>
#include <vector>

#include "bilancetta/fluids.hpp"

namespace bilancetta
{

/// What a scale can show. Terms as in OIML R 76: readability is the step of the display,
/// repeatability the standard deviation of one reading, linearity a bound on the error left after
/// adjustment, drift a bound on the change of zero between taring and reading. All in grams.
struct Scale {
  double readability_g = 0.01;
  double repeatability_g = 0.004;
  double linearity_g = 0.005;
  double drift_g = 0.0;

  bool operator==(const Scale&) const = default;
};

enum class ScaleClass { kitchen, pocket, jeweller, laboratory };
inline constexpr std::array scale_classes = {ScaleClass::kitchen, ScaleClass::pocket, ScaleClass::jeweller,
                                             ScaleClass::laboratory};

/// Default scale of a class (judgement, see defaults in docs/uncertainty.md).
Scale scale_of(ScaleClass scale_class);
std::string_view name_of(ScaleClass scale_class);
/// The class whose step matches the finest decimal typed: 0 kitchen, 1-2 pocket, 3 jeweller, 4+ laboratory.
ScaleClass scale_class_of_decimals(int decimals);
/// The scale of that class; one decimal means a pocket scale that steps by 0.1 g, its errors in proportion.
Scale scale_of_decimals(int decimals);

/// Decimals of the display.
int decimals_shown(const Scale& scale);
/// A scale of this step in g, above 0, as usual ones are: noise and linearity of the next finer decade, as many times
/// larger as the step is (judgement).
Scale scale_of_step(double step_g);

/// How the piece was prepared against air bubbles.
enum class Wetting { dunked, soaped, boiled, sealed };
inline constexpr std::array all_wettings = {Wetting::dunked, Wetting::soaped, Wetting::boiled, Wetting::sealed};

/// Mean displacement of clinging bubbles, grams of liquid per cm2 of surface (judgement).
double bubble_mean_g_cm2(Wetting wetting);
std::string_view name_of(Wetting wetting);

/// The liquid, the air and the suspension.
struct Surroundings {
  double water_c = 20.0;
  double water_c_u = 3.0;                      ///< standard uncertainty of the water temperature
  bool air_free = false;                       ///< boiled or evacuated water: no dissolved air
  bool tap_water = false;                      ///< adds dissolved salts, 0.25 +- 0.14 g/L
  std::optional<double> liquid_density_g_cm3;  ///< another liquid instead of water
  double liquid_density_u_g_cm3 = 0.003;       ///< its standard uncertainty: alcohol, some kelvins off (judgement)
  double liquid_shift_g_cm3 = 0.0;             ///< what a sitting has found to be added (sitting.hpp)
  Air air;
  double thread_mm = 0.1;  ///< diameter of the suspension
  bool thread_tared = true;
  bool tare_rounded = false;      ///< the scale keeps a tare no finer than it shows it: one more rounding
  double cup_mm = 70.0;           ///< inner diameter of the cup: more thread dips as the level rises
  double evaporation_g = 0.0002;  ///< at most this leaves the cup between zero and reading (judgement)
  Wetting wetting = Wetting::dunked;
};

/// Readings as typed, grams. Exactly one way of weighing is given besides dry_g.
struct Readings {
  std::vector<double> dry_g;           ///< in air, of all pieces together; several are repeats
  std::vector<double> rise_g;          ///< what a cup of liquid on the pan gained
  std::optional<double> cup_before_g;  ///< the same from two readings
  std::optional<double> cup_after_g;
  std::optional<double> cup_resting_g;  ///< cup's gain with the piece at rest on its bottom: the dry weight again
  std::vector<double> submerged_g;      ///< hung from the balance in the liquid
  std::optional<double> holder_g;       ///< reading of the empty holder in the liquid, if not tared
  std::optional<double> bottle_full_g;  ///< pycnometer filled to its mark
  std::optional<double> soaked_g;       ///< the piece weighed in air again, wet on the surface no more
  std::optional<double> bottle_c;       ///< temperatures of the two fillings, if known
  std::optional<double> bottle_with_piece_c;
  std::optional<double> bottle_with_piece_g;  ///< the bottle with the pieces in, topped up again
};

enum class Way { rise, submerged, bottle };

/// What a sitting of many pieces leaves of the errors they share, as one weighing feels it (sitting.hpp).
struct SharedErrors {
  double displaced_shift_g = 0.0;  ///< add to what was displaced
  double displaced_u_g = 0.0;      ///< what remains of all shared errors, the liquid's density included, in its place
  double span = 0.0;               ///< part by which the scale reads too much
  double own_share = 1.0;          ///< of the variance of linearity, evaporation and drift of the reading in the liquid
};

/// One piece, or `count` like pieces weighed together.
struct Weighing {
  Readings readings;
  Scale scale;
  /// Another scale for the reading in the liquid; then errors of span no longer cancel in the density.
  std::optional<Scale> liquid_scale;
  std::optional<double> disc_cm3;  ///< by its diameter and thickness, if they were given
  double span_u = 0.0005;          ///< relative standard uncertainty of each scale's span, used with two scales
  Surroundings surroundings;
  int count = 1;
  double shape_factor = 8.0;           ///< surface of one piece / volume^(2/3); 4.84 for a sphere
  std::optional<double> area_cm2;      ///< surface of one piece, if known
  std::optional<double> face_cm2{};    ///< end of one piece, if it is a disc of known diameter
  bool as_typed = false;               ///< insist on readings that look mixed up
  std::optional<SharedErrors> shared;  ///< set by a sitting
};

/// Whether the reading in the liquid counts from a tare that the scale has rounded to its step: a tared cup or holder
/// on such a scale. A difference of two readings has their two roundings instead.
bool counts_from_rounded_tare(const Weighing& weighing);

/// Which way of weighing the readings are. @throws Error if none or more than one is given.
Way way_of(const Readings& readings);

/// The two numbers every way comes down to, from mean readings.
struct Displacement {
  double dry_g = 0.0;
  double displaced_g = 0.0;  ///< B: dry minus submerged, or the rise, or dry + bottle full - bottle with piece
};
Displacement displacement_of(const Readings& readings);
/// What was read in the liquid, mean of repeats: the rise or cup after, the submerged weight, the bottle with piece.
double reading_in_liquid_g(const Readings& readings);
/// Part of what a full bottle reads that is water, and how well that is known: bottles differ (judgement).
inline constexpr double water_in_bottle = 0.6, water_in_bottle_u = 0.1;
/// What part of its first water a bottle of glass (1e-5 per kelvin) holds at the temperature of the second filling;
/// water by Tanaka et al. (fluids.hpp).
double water_left_in_bottle(double bottle_c, double bottle_with_piece_c);
/// The full bottle, brought to the temperature of the second filling where both are known.
double full_bottle_g(const Readings& readings);

/// Weights that are taken, g.
inline constexpr double lightest_g = 1e-5, heaviest_g = 1e5;
/// Refuses what no scale could have shown: @throws Error naming field, value, allowed range and what
/// to do (bad_reading, readings_mixed_up, bad_option).
void check(const Weighing& weighing);

/// Cubic expansion of the usual metal, per kelvin: silver 57e-6, copper 50, steel 36, lead 87 (from memory).
inline constexpr double usual_expansion_per_k = 51e-6;

/// Density of the liquid with its standard uncertainty, g/cm3 (temperature and salts included).
struct LiquidDensity {
  double g_cm3 = 0.0;
  double temperature_u_g_cm3 = 0.0;  ///< of the temperature; a piece in it grows, which makes up for a part
  double salts_u_g_cm3 = 0.0;        ///< of dissolved salts, or of a given liquid's density
};
LiquidDensity liquid_density_of(const Surroundings& surroundings);

/// Density of a body from its dry reading D and the other reading, g/cm3, exact for every way:
/// rho = rho_a + (rho_l - rho_a) D / B. Derivation: docs/method.md section 1. T may be a ceres::Jet.
template <typename T>
T density_from(const T& dry_g, const T& displaced_g, const T& liquid_g_cm3, const T& air_g_cm3)
{
  return air_g_cm3 + (liquid_g_cm3 - air_g_cm3) * dry_g / displaced_g;
}

/// k = 1 - 0.0012/8: what a balance makes of weights of conventional density in conventional air (OIML D 28:2004).
inline constexpr double conventional_factor = 1.0 - 0.0012 / 8.0;

/// Mass from a dry reading (balance adjusted with weights of conventional density 8.000 g/cm3 in air
/// of 0.0012 g/cm3, OIML D 28:2004): m = k D / (1 - rho_a / rho), k = 1 - 0.0012/8.
double mass_g(double dry_g, double density_g_cm3, double air_g_cm3, double adjusted_in_air_g_cm3 = 0.0012);

/// Standard deviation of one reading, g: the scale's repeatability, or where repeats scatter more than 2.5 times as
/// much (the user is warned) their own (JCGM 100:2008, 4.2.2).
double noise_of(const std::vector<double>& displayed_g, const Scale& scale);

/// Mass of all pieces in g and its standard uncertainty: mean of the dry readings, the span of the scale set right if a
/// sitting knows it; the uncertainty is that of the dry scale's step, noise and linearity, which weighings of like
/// loads share.
struct Mass {
  double g = 0.0, u_g = 0.0, linearity_u_g = 0.0;
};
Mass mass_of(const Weighing& weighing, double density_g_cm3);

/// The scale that read the liquid.
inline const Scale& liquid_scale_of(const Weighing& weighing)
{
  return weighing.liquid_scale ? *weighing.liquid_scale : weighing.scale;
}

/// Open pores from a second weighing in air after soaking (ISO 5018, ASTM B962: dry D, submerged S,
/// soaked W). The weighing's own density is then the apparent one, of the solid with its closed pores.
struct OpenPores {
  double bulk_g_cm3 = 0.0, bulk_u_g_cm3 = 0.0;  ///< mass by the volume with its open pores
  double share = 0.0, share_u = 0.0;            ///< open pores by volume, (W - D) / (W - S)
};
/// @param displaced_u_g  of D - S. @throws Error (bad_reading) unless D <= W and pores are less than all of the piece.
OpenPores open_pores_of(const Weighing& weighing, double displaced_u_g = 0.0);

/// Whether the rise equals the dry weight: the cup then bears the whole piece. Never of a piece of a few steps.
bool rests_on_the_bottom(const Weighing& weighing);

/// Surface of all pieces together, cm2, from area_cm2 or from shape and volume; at least 0.05 cm2.
double surface_cm2(const Weighing& weighing, double volume_cm3);

}  // namespace bilancetta
