#include "bilancetta/reference.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <random>

#include "bilancetta/error.hpp"
#include "bilancetta/remedy.hpp"
#include "bilancetta/verdict.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace
{

Piece reference_piece(double dry, double rise, double density, ScaleClass scale_class)
{
  Piece piece;
  piece.weighing.scale = scale_of(scale_class);
  piece.weighing.surroundings.wetting = Wetting::boiled;
  piece.weighing.readings.dry_g = {dry};
  piece.weighing.readings.rise_g = {rise};
  piece.reference_density_g_cm3 = density;
  return piece;
}

ReferenceCheck checked(const Piece& piece)
{
  return reference_check_of(weigh_up(piece.weighing, 0.95), piece);
}

}  // namespace

TEST_CASE("a coarse check says that it is too coarse, not that all is well", "[reference]")
{
  // A 5 g cupronickel coin (8.94) on a pocket scale, displacement 10 mg too large: E_n passes, and the same 10 mg make
  // a small silver piece read far too light.
  const ReferenceCheck check = checked(reference_piece(4.96, 0.56, 8.94, ScaleClass::pocket));
  CHECK(std::abs(check.e_n) < 1.0);
  CHECK(check.state == BenchState::too_coarse);
  CHECK(check.caught_mg > 10.0);
  CHECK(check.words.find("too coarse") != std::string::npos);
}

TEST_CASE("a wrong bench is not trusted", "[reference]")
{
  const ReferenceCheck check = checked(reference_piece(20.000, 2.300, 8.94, ScaleClass::jeweller));
  CHECK(check.state == BenchState::not_trustworthy);
  CHECK(check.e_n < -1.0);
}

TEST_CASE("the error that a check says it would catch is caught 4 times in 5", "[reference]")
{
  const double density = 8.94;
  const double dry = 5.0;
  const double air = air_density_g_cm3({});
  const double displaced = dry * (water_density_g_cm3(20.0) - air) / (density - air);
  Piece ideal = reference_piece(dry, displaced, density, ScaleClass::jeweller);
  const double caught_g = checked(ideal).caught_mg / 1000.0;
  std::mt19937_64 random(3);
  const Scale scale = ideal.weighing.scale;
  int caught = 0;
  constexpr int weighings = 2000;
  for (int i = 0; i < weighings; ++i) {
    const auto uniform = [&](double half) { return std::uniform_real_distribution<double>(-half, half)(random); };
    const auto normal = [&](double sd) { return std::normal_distribution<double>(0.0, sd)(random); };
    // The known density is known to its own standard uncertainty only.
    const double true_density = density + normal(ideal.reference_u_g_cm3);
    const double true_displaced =
        dry * (water_density_g_cm3(20.0 + std::clamp(normal(3.0), -9.0, 9.0)) - air) / (true_density - air);
    Piece piece = ideal;
    piece.weighing.readings.dry_g = {
        std::round((dry + normal(scale.repeatability_g) + uniform(scale.linearity_g)) * 1000) / 1000};
    piece.weighing.readings.rise_g = {std::round((true_displaced + caught_g + normal(scale.repeatability_g) +
                                                  uniform(scale.linearity_g) + uniform(0.0005)) *
                                                 1000) /
                                      1000};
    caught += std::abs(checked(piece).e_n) > 1.0 ? 1 : 0;
  }
  CHECK(caught > 0.75 * weighings);
  CHECK(caught < 0.86 * weighings);
}

TEST_CASE("open pores come from a second weighing in air", "[weighing]")
{
  // Forward vector, derived: skeleton 10.2, open porosity 5 %, 4 g: D 4.00013, S 3.60909, W 4.02071 (metrology of
  // soaked pieces as in ISO 5018 and ASTM B962; computed by force balance at 20 C).
  Weighing w;
  w.scale = scale_of(ScaleClass::laboratory);
  w.readings.dry_g = {4.00013};
  w.readings.submerged_g = {3.60909};
  w.readings.soaked_g = 4.02071;
  const OpenPores pores = open_pores_of(w);
  CHECK_THAT(pores.share, WithinAbs(0.0500, 0.0001));
  CHECK_THAT(pores.bulk_g_cm3, WithinAbs(9.690, 0.001));
  w.readings.soaked_g = 3.9;
  CHECK_THROWS_AS(check(w), Error);
}

TEST_CASE("fillings of a bottle at known temperatures are brought together", "[weighing]")
{
  // 25 mL bottle, second filling 0.5 K warmer: 2.6 mg of water, 0.5 % of the density of 5 g silver, if ignored.
  Weighing w;
  w.scale = scale_of(ScaleClass::laboratory);
  w.readings.dry_g = {5.0};
  const double full = 41.7;
  w.readings.bottle_full_g = full;
  const double displaced = 5.0 * 0.997 / 10.49;
  w.readings.bottle_with_piece_g = full + 5.0 - displaced - 0.6 * full * 1.97e-4 * 0.5;
  const double apart = displacement_of(w.readings).displaced_g;
  CHECK_THAT(apart / displaced - 1.0, WithinAbs(0.005, 0.001));
  w.readings.bottle_c = 20.0;
  w.readings.bottle_with_piece_c = 20.5;
  CHECK_THAT(displacement_of(w.readings).displaced_g, WithinRel(displaced, 1e-6));
}

TEST_CASE("two scales no longer share their span", "[density]")
{
  Piece piece = reference_piece(20.000, 1.905, 10.49, ScaleClass::jeweller);
  const double together = summary_of(density_curve_of(piece.weighing), piece.weighing).standard_uncertainty;
  piece.weighing.liquid_scale = piece.weighing.scale;
  piece.weighing.span_u = 0.002;
  const double apart = summary_of(density_curve_of(piece.weighing), piece.weighing).standard_uncertainty;
  // sqrt(2) x 0.2 % of 10.49 = 0.030 g/cm3 more, in quadrature.
  CHECK_THAT(apart, WithinRel(std::hypot(together, std::sqrt(2.0) * 0.002 * 10.49), 0.05));
}

TEST_CASE("the remedy is the one that leaves least, and none is named where none helps", "[remedy]")
{
  const Piece small = reference_piece(0.50, 0.05, 10.49, ScaleClass::pocket);
  const Remedy remedy = best_remedy(small.weighing);
  CHECK(remedy.words.find("like pieces") != std::string::npos);
  CHECK(remedy.standard_uncertainty < 0.2 * combined_u(small.weighing));
  Piece bubbly = reference_piece(30.0000, 2.8580, 10.49, ScaleClass::laboratory);
  bubbly.weighing.surroundings.wetting = Wetting::dunked;
  bubbly.weighing.surroundings.water_c_u = 0.1;
  CHECK(best_remedy(bubbly.weighing).words.find("soap") != std::string::npos);
}

TEST_CASE("repeats that run one way, or apart, are pointed out", "[verdict]")
{
  Piece piece = reference_piece(4.210, 0.400, 10.49, ScaleClass::jeweller);
  const auto warned = [&](const std::vector<double>& rises, const char* words) {
    piece.weighing.readings.rise_g = rises;
    const Analysis analysis = weigh_up(piece.weighing, 0.95);
    for (const std::string& warning : warnings_of(analysis, piece)) {
      if (warning.find(words) != std::string::npos) {
        return true;
      }
    }
    return false;
  };
  CHECK(warned({0.400, 0.404, 0.409}, "run one way"));
  CHECK_FALSE(warned({0.400, 0.402, 0.401}, "run one way"));
  CHECK(warned({0.400, 0.400, 0.400}, "all the same"));
  CHECK(warned({0.400, 0.460, 0.410}, "repeatability"));
  CHECK(warned({4.210}, "rest on the bottom"));
}
