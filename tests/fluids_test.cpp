#include <cmath>
#include <limits>

#include "bilancetta/fluids.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;
using Catch::Matchers::WithinAbs;

namespace
{

constexpr double kg_m3 = 1000.0;

}  // namespace

// Tanaka et al., Metrologia 38 (2001) 301-309, table 1, every degree.
TEST_CASE("water agrees with the published table at every degree", "[fluids]")
{
  int degrees = 0;
  for (const Row& row : published("water_tanaka_2001.csv")) {
    INFO(row.all());
    CHECK_THAT(kg_m3 * water_density_g_cm3(row.number("water_c"), false),
               WithinAbs(row.number("density_kg_m3"), 0.00006));
    ++degrees;
  }
  CHECK(degrees == 41);
}

// Jones and Harris, J. Res. NIST 97 (1992) 335-340: air-saturated minus air-free.
TEST_CASE("dissolved air makes water lighter by the published amount", "[fluids]")
{
  for (const Row& row : published("water_dissolved_air.csv")) {
    INFO(row.all());
    const double t = row.number("water_c");
    CHECK_THAT(kg_m3 * (water_density_g_cm3(t, true) - water_density_g_cm3(t, false)),
               WithinAbs(row.number("expected_kg_m3"), row.number("tolerance")));
  }
}

TEST_CASE("the correction for dissolved air is held constant above 25 C", "[fluids]")
{
  const double at_25 = water_density_g_cm3(25.0, false) - water_density_g_cm3(25.0, true);
  for (const double t : {25.5, 30.0, 40.0}) {
    CHECK_THAT(water_density_g_cm3(t, false) - water_density_g_cm3(t, true), WithinAbs(at_25, 1e-15));
  }
}

// Sources that do not share the program's formula; each row names its own (see the file's notes).
TEST_CASE("water agrees with independent measurements and formulas", "[fluids]")
{
  for (const Row& row : published("water_independent.csv")) {
    INFO(row.all());
    CHECK_THAT(kg_m3 * water_density_g_cm3(row.number("water_c"), false),
               WithinAbs(row.number("expected_kg_m3"), row.number("tolerance")));
  }
}

TEST_CASE("the slope of water's density is that of the published table", "[fluids]")
{
  // Central differences of Tanaka's table; its last printed digit makes 5e-8 g/cm3/K, curvature less.
  const auto rows = published("water_tanaka_2001.csv");
  for (std::size_t i = 1; i + 1 < rows.size(); ++i) {
    INFO(rows[i].all());
    const double difference = (rows[i - 1].number("density_kg_m3") - rows[i + 1].number("density_kg_m3")) / 2.0 / kg_m3;
    CHECK_THAT(water_density_slope_g_cm3_k(rows[i].number("water_c")), WithinAbs(difference, 2.5e-7));
  }
}

// Each row names its source (a balance manual, an independent library, two simplified formulas).
TEST_CASE("air agrees with independent sources", "[fluids]")
{
  for (const Row& row : published("air_density.csv")) {
    INFO(row.all());
    const Air air{.air_c = row.number("air_c"), .air_hpa = row.number("air_hpa"), .air_rh = row.number("air_rh")};
    CHECK_THAT(kg_m3 * air_density_g_cm3(air), WithinAbs(row.number("expected_kg_m3"), row.number("tolerance")));
  }
}

TEST_CASE("air is lighter when it is warm, thin or moist", "[fluids]")
{
  const double usual = air_density_g_cm3({});
  CHECK(air_density_g_cm3({.air_c = 25.0}) < usual);
  CHECK(air_density_g_cm3({.air_hpa = 900.0}) < usual);
  CHECK(air_density_g_cm3({.air_rh = 90.0}) < usual);
}

// IAPWS R1-76(2014), table of values, mN/m; quoted from memory, half a unit of the last digit.
TEST_CASE("surface tension of water follows the release", "[fluids]")
{
  CHECK_THAT(water_surface_tension_mn_m(5.0), WithinAbs(74.94, 0.0051));
  CHECK_THAT(water_surface_tension_mn_m(20.0), WithinAbs(72.74, 0.0051));
  CHECK_THAT(water_surface_tension_mn_m(25.0), WithinAbs(71.97, 0.0051));
  CHECK_THAT(water_surface_tension_mn_m(40.0), WithinAbs(69.60, 0.0051));
}

TEST_CASE("water and air outside their ranges are refused by field and value", "[fluids]")
{
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const double infinite = std::numeric_limits<double>::infinity();
  for (const double t : {120.0, 40.01, -0.01, nan, infinite, -infinite}) {
    const Refusal r = refusal_of([&] { water_density_g_cm3(t); });
    CHECK(r.code == ErrorCode::bad_option);
    CHECK(r.field == "water_c");
  }
  CHECK(contains(refusal_of([] { water_density_g_cm3(120.0); }).message, "120"));
  const auto refuses = [](const Air& air, const std::string& field) {
    const Refusal r = refusal_of([&] { air_density_g_cm3(air); });
    CHECK(r.code == ErrorCode::bad_option);
    CHECK(r.field == field);
  };
  refuses({.air_c = 120.0}, "air_c");
  refuses({.air_c = nan}, "air_c");
  refuses({.air_hpa = 10.0}, "air_hpa");
  refuses({.air_hpa = nan}, "air_hpa");
  refuses({.air_rh = 300.0}, "air_rh");
  refuses({.air_rh = -1.0}, "air_rh");
  refuses({.air_rh = nan}, "air_rh");
}
