#pragma once

#include <array>
#include <cstdint>
#include <random>
#include <string>
#include <string_view>
#include <vector>

/// A simulated world of contact parts, spoons, coins and odd pieces of metal, to hold the program against. It was
/// written from general knowledge of electrical contacts, silverware and coins without a look at the program's
/// tables, and reads none of them. All its numbers are from memory (handbook knowledge), none is fitted.
namespace world
{

using Random = std::mt19937_64;

enum class Build { solid, plated, inlay, other };
inline constexpr std::array<std::string_view, 4> build_names{"solid", "plated", "inlay", "other"};

/// One substance as it came out of the melt or the press.
struct Substance {
  int family = 0;              ///< row of the families
  double density_g_cm3 = 0.0;  ///< with its pores
  double silver = 0.0;         ///< mass fractions
  double cadmium = 0.0;        ///< as metal, also of its oxide
};

int family_called(std::string_view name);
std::string_view family_name(int family);
Substance draw_substance(int family, Random& random);
/// What a magnet and a drop of chromate reagent show on the bare substance.
std::string draw_magnet(int family, Random& random);
std::string draw_reagent(int family, Random& random);
/// A word drawn from odds written as "red 3 brown 1".
std::string draw_word(std::string_view odds, Random& random);

struct Reading {
  double dry_g = 0.0;
  double rise_g = 0.0;    ///< what a cup of water gained with the piece hung into it
  bool jeweller = false;  ///< a scale that steps by 0.001 g; else by 0.01 g
  bool soaped = false;
};

/// Bench answers, one in twenty of them wrong.
struct Bench {
  std::string magnet, skin_reagent, notch_reagent, sides;
};

struct Piece {
  std::string place;
  std::string form;  ///< unsure where hollow pieces are about, else solid
  std::string kind;  ///< what it is, for reports
  Build build = Build::solid;
  int outer = 0, inner = 0;  ///< families; alike in a piece of one substance
  double mass_g = 0.0;
  double density_g_cm3 = 0.0;
  double silver = 0.0;  ///< mass fraction in the whole piece
  double cadmium = 0.0;
  Reading reading;
  Bench bench;
};

inline constexpr double cadmium_from = 0.001;  ///< mass fraction from which a piece is said to hold it
inline constexpr double lightest_g = 0.2, heaviest_g = 20.0;

const std::vector<std::string>& places();
const std::vector<double>& place_weights();
/// A piece found at this place, of a mass within the bounds; without readings and bench answers.
Piece draw_made(const std::string& place, double low_g, double high_g, Random& random);
/// What the bench shows of a piece; depends on its build and substances alone.
Bench draw_bench(const Piece& piece, Random& random);
/// A piece of any place with readings and bench answers.
Piece draw_piece(Random& random);

/// Density of the rise that was read given dry reading and true density of the piece, up to a factor.
double likelihood(const Reading& reading, double density_g_cm3);
/// Bounds of the densities outside which the likelihood is below 1e-8 of its highest.
std::array<double, 2> density_bounds(const Reading& reading);

}  // namespace world
