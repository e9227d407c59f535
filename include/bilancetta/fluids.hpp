#pragma once

namespace bilancetta
{

/// State of the air around the scale.
struct Air {
  double air_c = 20.0;       ///< temperature, degrees Celsius, -10 to 45
  double air_hpa = 1013.25;  ///< pressure, hPa, 500 to 1100
  double air_rh = 50.0;      ///< relative humidity, percent, 0 to 100
};

/// Density of water, g/cm3, at 101 325 Pa.
///
/// Formula recommended by the CIPM: Tanaka et al., Metrologia 38 (2001) 301-309, equation (1),
/// doi:10.1088/0026-1394/38/4/3, for air-free ocean-like water; with `holds_air` its dissolved-air
/// correction (stated for 0 to 25 C, held constant above) is added: -2.5e-6 g/cm3 at 20 C.
/// Range 0 to 40 C, standard uncertainty below 1e-6 g/cm3.
/// @throws Error (bad_option) outside 0 to 40 C or if not finite.
double water_density_g_cm3(double water_c, bool holds_air = true);

/// -d(density)/dT of air-free water, g/cm3 per kelvin, from the same formula; 2.065e-4 at 20 C, below 0 under 4 C.
/// For 0 to 40 C, which is not checked here; by differences over 0.02 K, good to 1e-8.
double water_density_slope_g_cm3_k(double water_c);

/// Density of moist air, g/cm3.
///
/// CIPM-2007: Picard et al., Metrologia 45 (2008) 149-155, doi:10.1088/0026-1394/45/2/004, with a
/// CO2 mole fraction of 0.0004. Stated for 600 to 1100 hPa and 15 to 27 C (relative standard
/// uncertainty 2.2e-5); used here over the range of Air, where simpler published formulas agree
/// with it within 7e-4, far below what a scale can see.
/// @throws Error (bad_option) if a value is not finite or outside the range given in Air.
double air_density_g_cm3(const Air& air);

/// Surface tension of water against air, mN/m: IAPWS release R1-76(2014), which states 0.5 % or better for water
/// against its vapour (from memory); air hardly matters. For 0 to 40 C, which is not checked here.
double water_surface_tension_mn_m(double water_c);

}  // namespace bilancetta
