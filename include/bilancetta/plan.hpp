#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "bilancetta/claim.hpp"

namespace bilancetta
{

/// A weighing that is thought of and not yet made.
struct PlannedWeighing {
  Scale scale;
  Surroundings surroundings;
  Way way = Way::rise;
  double each_g = 1.0;
  int count = 1;
  int repeats = 1;
  double shape_factor = 8.0;
  std::optional<Scale> liquid_scale;  ///< if the liquid is weighed on another
  double span_u = 0.0005;
};

/// Why they cannot be weighed so: more than 100 kg, less than half a step of the scale, or more than the largest common
/// bottle (25 mL) holds if it is done with one. Empty if they can.
std::string_view why_unweighable(const PlannedWeighing& plan, double density_g_cm3);
inline bool can_be_weighed(const PlannedWeighing& plan, double density_g_cm3)
{
  return why_unweighable(plan, density_g_cm3).empty();
}
/// The ideal readings of such a weighing for a piece of this density, not yet rounded to the display.
Weighing ideal_weighing(const PlannedWeighing& plan, double density_g_cm3);

/// Plus-or-minus of the density to expect (half of the band), g/cm3.
double expected_half_width(const PlannedWeighing& plan, double density_g_cm3, double level = 0.95);
/// Like pieces to weigh together for a density whose band is good to one percent; 0 if not even 1,000 are enough.
int pieces_for_one_percent(PlannedWeighing plan, double density_g_cm3, double level = 0.95);

/// Chances that one such weighing tells two solid materials apart: that the likelier of the two by its predictive
/// density is the true one, when it is the one and when it is the other.
std::pair<double, double> chances_apart(const Tables& tables, const PlannedWeighing& plan, int one, int other);
/// The mean of both: the chance when either is as likely beforehand; half is a guess.
double chance_apart(const Tables& tables, const PlannedWeighing& plan, int one, int other);

/// Two materials that are common at a place and next to each other by density, and the chance to tell them apart.
struct Neighbours {
  int lighter, heavier;
  double chance;
};
/// Of the families that are common at the place, the row of each that is commonest there; the lightest first.
/// @throws Error (unknown_key).
std::vector<Neighbours> neighbours_at(const Tables& tables, const PlannedWeighing& plan, const std::string& place);

/// How readings of two materials would be spread: `columns` heights from 0 to 1 for each, over the densities that
/// either is likely to show.
struct TwoCurves {
  double low_g_cm3 = 0.0, high_g_cm3 = 0.0;
  std::vector<double> one, other;
};
TwoCurves two_curves(const Tables& tables, const PlannedWeighing& plan, int one, int other, int columns);

/// How many like pieces together, or how many repeats of one, are needed for a chance; 0 if none up to 1,000
/// pieces or 10 repeats is enough.
int pieces_needed(const Tables& tables, PlannedWeighing plan, int one, int other, double confidence);
int repeats_needed(const Tables& tables, PlannedWeighing plan, int one, int other, double confidence);

/// Chance that a weighing of each opposite of a claim is refused (the claim's tail below 1 %). `innocent`: never, since
/// ware of that form may well weigh so.
struct ClaimPower {
  std::string opposite;
  double refused = 0.0;
  bool innocent = false;
};
/// @param form  solid, hollow, filled or unsure, as in Context
std::vector<ClaimPower> claim_power(const Tables& tables, const PlannedWeighing& plan, const Claim& claim, Form form);
/// Other solid materials that such a weighing refuses in fewer than four cases of five: the commonest of each family,
/// of the claim's own family three, the commonest first, at most ten. Filled ware can be made to weigh as one likes
/// and is not among them.
std::vector<ClaimPower> claim_look_alikes(const Tables& tables, const PlannedWeighing& plan, const Claim& claim);

}  // namespace bilancetta
