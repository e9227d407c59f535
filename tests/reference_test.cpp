#include "bilancetta/reference.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <random>

#include "bilancetta/verdict.hpp"

using namespace bilancetta;
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
  CHECK(check.words.find("the check is coarse") != std::string::npos);
}

// 1 g of silver, 10.49 g/cm3, displaces (0.9982 - 0.0012)/10.49 = 0.0950 g of water: an error of E mg is 1 % of the
// displacement of E/0.950 g.
TEST_CASE("a check says from which weight on it vouches for a piece of silver", "[reference]")
{
  const ReferenceCheck check = checked(reference_piece(5.00, 0.56, 8.94, ScaleClass::pocket));
  INFO(check.words);
  const std::size_t from = check.words.find("silver pieces from ");
  REQUIRE(from != std::string::npos);
  CHECK_THAT(std::stod(check.words.substr(from + 19)), WithinRel(check.caught_mg / 0.950, 0.06));  // two digits
}

TEST_CASE("an E_n that rounds to nothing has no sign", "[reference]")
{
  Piece piece = reference_piece(5.000, 0.558, 8.94, ScaleClass::jeweller);
  const double read = weigh_up(piece.weighing, 0.95).density.value;
  piece.reference_density_g_cm3 = read + 1e-6;
  const ReferenceCheck check = checked(piece);
  CHECK(check.e_n < 0.0);
  CHECK(check.words.find("(E_n 0.0)") != std::string::npos);
}

// A piece weighed once on the same scale can hide no larger error than its own band allows for.
TEST_CASE("many readings of a known piece vouch for the bench", "[reference]")
{
  Piece piece = reference_piece(5.000, 0.558, 8.94, ScaleClass::jeweller);
  piece.reference_u_g_cm3 = 0.002;
  piece.weighing.surroundings.water_c_u = 0.5;
  CHECK(checked(piece).state == BenchState::too_coarse);
  CHECK(checked(piece).words.find("five times") != std::string::npos);
  piece.weighing.readings.dry_g.assign(10, 5.000);
  piece.weighing.readings.rise_g = {0.558, 0.557, 0.558, 0.559, 0.558, 0.558, 0.557, 0.559, 0.558, 0.558};
  const ReferenceCheck check = checked(piece);
  CHECK(check.state == BenchState::trustworthy);
  CHECK(check.effect <= 2.0 * check.own_u);
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
