#include "bilancetta/fluids.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "bilancetta/error.hpp"

namespace bilancetta
{

namespace
{

void require_range(const char* field, double value, double low, double high, const char* unit, const char* hint)
{
  if (!(value >= low && value <= high)) {
    throw Error(ErrorCode::bad_option,
                fmt::format("{} {} is outside {} to {} {}; {}", value, unit, low, high, unit, hint), {.field = field});
  }
}

// Tanaka et al. 2001, equation (1): a5 [1 - (t + a1)^2 (t + a2) / (a3 (t + a4))], kg/m3.
double air_free_water_kg_m3(double t)
{
  constexpr double a1 = -3.983035;
  constexpr double a2 = 301.797;
  constexpr double a3 = 522528.9;
  constexpr double a4 = 69.34881;
  constexpr double a5 = 999.974950;
  return a5 * (1.0 - (t + a1) * (t + a1) * (t + a2) / (a3 * (t + a4)));
}

}  // namespace

double water_density_g_cm3(double water_c, bool holds_air)
{
  require_range("water_c", water_c, 0.0, 40.0, "C",
                "let hotter water cool, give degrees Celsius, or another liquid by its density");
  const double correction = holds_air ? -4.612e-3 + 0.106e-3 * std::min(water_c, 25.0) : 0.0;
  return (air_free_water_kg_m3(water_c) + correction) / 1000.0;
}

double water_density_slope_g_cm3_k(double water_c)
{
  constexpr double step = 0.01;
  return (air_free_water_kg_m3(water_c - step) - air_free_water_kg_m3(water_c + step)) / (2.0 * step) / 1000.0;
}

double air_density_g_cm3(const Air& air)
{
  require_range("air_c", air.air_c, -10.0, 45.0, "C", "give the temperature of the room");
  require_range("air_hpa", air.air_hpa, 500.0, 1100.0, "hPa",
                "give the pressure at the scale, not reduced to sea level");
  require_range("air_rh", air.air_rh, 0.0, 100.0, "%", "give the relative humidity in percent");
  const double t = air.air_c;
  const double kelvin = t + 273.15;
  const double p = 100.0 * air.air_hpa;
  const double saturation_pa =
      std::exp(1.2378847e-5 * kelvin * kelvin - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin);
  const double enhancement = 1.00062 + 3.14e-8 * p + 5.6e-7 * t * t;
  const double x = air.air_rh / 100.0 * enhancement * saturation_pa / p;  // mole fraction of vapour
  const double pt = p / kelvin;
  const double compressibility = 1.0 -
                                 pt * (1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t * t + (5.707e-6 - 2.051e-8 * t) * x +
                                       (1.9898e-4 - 2.376e-6 * t) * x * x) +
                                 pt * pt * (1.83e-11 - 0.765e-8 * x * x);
  constexpr double dry_air_kg_mol = 28.96546e-3;
  constexpr double water_kg_mol = 18.01528e-3;
  constexpr double gas_constant = 8.314472;
  const double kg_m3 = p * dry_air_kg_mol / (compressibility * gas_constant * kelvin) *
                       (1.0 - x * (1.0 - water_kg_mol / dry_air_kg_mol));
  return kg_m3 / 1000.0;
}

double water_surface_tension_mn_m(double water_c)
{
  const double tau = 1.0 - (water_c + 273.15) / 647.096;
  return 235.8 * std::pow(tau, 1.256) * (1.0 - 0.625 * tau);
}

}  // namespace bilancetta
