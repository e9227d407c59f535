#pragma once

#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace bilancetta
{

/// Low, typical and high of a quantity; low and high are the ends of a 95 % range.
struct Range {
  double low = 0.0, typical = 0.0, high = 0.0;
};

/// Standard deviations of a normal distribution from its middle to the ends of its 95 % range.
inline constexpr double two_sided_95 = 1.959963984540054;

enum class Provenance { looked_up, common_practice, no_source_yet };
std::string_view name_of(Provenance provenance);

/// Where a row comes from; `file` and `line` point into the tables.
struct Origin {
  std::string source;  ///< key of a Source
  std::string where;   ///< page, table or row in it
  Provenance provenance = Provenance::no_source_yet;
  std::string file;
  int line = 0;
};

struct Source {
  std::string key, title, note;
  Origin origin;
};

/// An element or compound that materials are made of.
struct Constituent {
  std::string key, name;
  double density_g_cm3 = 0.0;
  double standard_uncertainty = 0.0;
  std::string printed;
  Origin origin;
};

/// How common something is at a place; `chief` is what most of a kind there is.
enum class Commonness { absent, rare, sometimes, common, chief };
std::string_view name_of(Commonness commonness);
/// Relative prior weight: 0.05, 0.5, 3, 10, 30 (judgement).
double weight_of(Commonness commonness);
/// That of the place where it is commonest; absent if none is given.
Commonness commonest(const std::map<std::string, Commonness>& found);

struct Component {
  int constituent = 0;  ///< index into Tables::constituents
  Range fraction;       ///< mass fraction
};

/// One substance a piece, a face, a coat or a carrier may be made of.
struct Material {
  std::string key, name, group, standard;
  std::vector<Component> components;  ///< the balance constituent is `components[balance]`
  int balance = 0;
  bool porous = false;    ///< `pores` holds; else the density may be measured
  Range pores;            ///< volume share
  bool measured = false;  ///< `density` holds: its typical value fixes the departure
  Range density;
  std::string printed;                       ///< measured value(s) as the source prints them
  Range departure;                           ///< measured / ideal typical - 1, or what its system departs by
  std::string system;                        ///< key of the Departure it was taken from; "" if measured or none
  std::string process;                       ///< key of the Process it is made by, or ""
  double scatter = 0.002;                    ///< relative standard deviation left over
  std::map<std::string, std::string> words;  ///< magnet, colour, skin, chromate, nitric, file, paper
  Range conductivity_iacs;                   ///< typical 0 if unknown
  std::map<std::string, Commonness> found;
  std::vector<std::string> cautions;
  std::string note;
  Origin origin;
};

/// Free quantities a hypothesis may have at most, and constituents a material may have.
inline constexpr int max_variables = 8;
inline constexpr int max_components = 8;
inline constexpr int open_mix_variables = 4;
/// Free quantities of a material: each constituent with a range but the balance, the pores or the departure.
int free_quantities(const Material& material);

/// Density without pores or departure: specific volumes add, 1/rho = sum of w_i / rho_i.
double ideal_density_g_cm3(const Material& material, const std::vector<Constituent>& constituents);
/// How pieces differ by what the range of a measured density has beyond the ranges of the constituents (to first
/// order): what both sides have is scatter, at least the material's own, rounded up to 0.05 %; what one side has beyond
/// it is a range of the departure, none where it is less than half the variance that is explained.
struct MeasuredSpread {
  double scatter = 0.0;
  Range departure;
};
MeasuredSpread measured_spread(const Material& material, const std::vector<Constituent>& constituents);
/// Density of the typical composition, g/cm3: ideal x (1 - pores) x (1 + departure).
double typical_density_g_cm3(const Material& material, const std::vector<Constituent>& constituents);

}  // namespace bilancetta
