#include "bilancetta/reference.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "bilancetta/remedy.hpp"
#include "words.hpp"

namespace bilancetta
{

namespace
{

// A 1 g silver piece weighed once in the same way, as a piece at hand.
Weighing silver_piece_like(const Weighing& weighing, double difference, double air)
{
  Weighing piece = weighing;
  piece.count = 1;
  piece.area_cm2.reset();
  Readings r;
  r.dry_g = {1.0};
  const double displaced = difference / (silver_g_cm3 - air);
  switch (way_of(weighing.readings)) {
    case Way::rise:
      r.rise_g = {displaced};
      break;
    case Way::submerged:
      r.submerged_g = {1.0 - displaced};
      break;
    case Way::bottle:
      r.bottle_full_g = weighing.readings.bottle_full_g;
      r.bottle_with_piece_g = *r.bottle_full_g + 1.0 - displaced;
      break;
  }
  piece.readings = r;
  return piece;
}

// What would make the check see more, by what its doubt mostly comes from; a sentence after a stop, or nothing.
std::string finer_check(const Analysis& analysis, const Piece& piece)
{
  if (piece.reference_u_g_cm3 > analysis.density.standard_uncertainty) {
    return ". Give its density as exactly as it is known (--reference-density-u), or take a smaller known piece";
  }
  const Readings& r = piece.weighing.readings;
  const bool few = std::max(r.rise_g.size(), r.submerged_g.size()) < 5 && way_of(r) != Way::bottle;
  return few ? ". Weigh it five times or more, dry and in the liquid, and give every reading" : "";
}

// E_n with one decimal; what rounds to nothing has no sign.
std::string e_n_words(double e_n)
{
  return fmt::format("E_n {:.1f}", std::abs(e_n) < 0.05 ? 0.0 : e_n);
}

}  // namespace

std::string_view name_of(BenchState state)
{
  constexpr std::string_view names[] = {"trustworthy", "not-trustworthy", "too-coarse-to-check"};
  return names[static_cast<int>(state)];
}

ReferenceCheck reference_check_of(const Analysis& analysis, const Piece& piece)
{
  const double known = *piece.reference_density_g_cm3;
  const double known_u = piece.reference_u_g_cm3;
  const double measured_u = analysis.density.standard_uncertainty;
  const Displacement d = displacement_of(piece.weighing.readings);
  ReferenceCheck check;
  check.expected_reading_g = expected_reading_g(analysis, piece.weighing, known);
  const double u = std::hypot(known_u, measured_u);
  check.e_n = (analysis.density.value - known) / (2.0 * u);
  // Beyond 2 u it is noticed; a shift of 2 u + 0.84 u is noticed 4 times in 5. d(rho)/dB = -rho / B nearly.
  const double shift = (2.0 + 0.8416) * u;
  check.caught_mg = 1000.0 * d.displaced_g * shift / known;
  const double difference = analysis.curve.liquid_g_cm3 - analysis.curve.air_g_cm3;
  const Weighing silver = silver_piece_like(piece.weighing, difference, analysis.curve.air_g_cm3);
  const double silver_displaced = displacement_of(silver.readings).displaced_g;
  check.effect = check.caught_mg / 1000.0 / silver_displaced;
  check.own_u = combined_u(silver) / silver_g_cm3;
  const bool agrees = std::abs(check.e_n) <= 1.0;
  const bool coarse = check.effect > 2.0 * check.own_u;
  check.state = !agrees ? BenchState::not_trustworthy : coarse ? BenchState::too_coarse : BenchState::trustworthy;
  const std::string missed = fmt::format(
      "an error of {} mg in the displacement would have shown 4 times in 5. That vouches for densities "
      "within 1 % of silver pieces from {} g on",
      significant(check.caught_mg, 2), significant(100.0 * check.effect * silver.readings.dry_g[0], 2));
  check.words =
      check.state == BenchState::not_trustworthy
          ? fmt::format(
                "The bench is not to be trusted yet: the known piece is off by more than the doubts allow ({}). Look "
                "for bubbles, a thread that touches, a wrong tare or water temperature",
                e_n_words(check.e_n))
      : check.state == BenchState::too_coarse
          ? fmt::format("The known piece agrees ({}), but the check is coarse: {}, not of smaller ones{}",
                        e_n_words(check.e_n), missed, finer_check(analysis, piece))
          : fmt::format("The bench can be trusted: the known piece agrees ({}), and {}", e_n_words(check.e_n), missed);
  return check;
}

}  // namespace bilancetta
