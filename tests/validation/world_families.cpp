// Substances of the simulated world: composition, pores, magnetism, colour of the chromate drop. All from memory.
#include <algorithm>
#include <functional>
#include <map>
#include <sstream>
#include <stdexcept>

#include "world.hpp"

namespace world
{
namespace
{

enum Element {
  Ag,
  Cu,
  Zn,
  Sn,
  Ni,
  Cd,
  CdO,
  SnO2,
  ZnO,
  W,
  WC,
  C,
  Mo,
  Fe,
  Cr,
  Al,
  Pb,
  Pd,
  Au,
  Pt,
  Mn,
  Co,
  In,
  Sb,
  Be,
  Ti
};
// g/cm3 near 20 C, in the order above; carbon as graphite, indium as its oxide In2O3.
constexpr double densities[] = {10.49, 8.96, 7.14,  7.29,  8.908, 8.65,  8.15,  6.95, 5.61, 19.25, 15.63, 2.23, 10.28,
                                7.874, 7.19, 2.699, 11.34, 12.02, 19.30, 21.45, 7.30, 8.90, 7.18,  6.69,  1.85, 4.51};

/// A constituent between two mass fractions, the middle likelier; each unit of it moves the density by `departure`.
struct Share {
  Element element;
  double low, high, departure = 0.0;
};

struct Family {
  std::string_view name;
  Element balance;
  std::vector<Share> shares;
  double departure;    ///< of the density from ideal mixing, besides that of the shares
  double pores;        ///< mean of exponential pores, by volume
  double scatter;      ///< relative standard deviation of the density from piece to piece
  std::string magnet;  ///< odds
  std::string reagent;
};

constexpr const char* none = "no-pull 1";
constexpr const char* strong = "strong 95 weak 5";
constexpr const char* fine_red = "bright-red 80 red 20";
constexpr const char* sterling_red = "dark-red 50 red 35 bright-red 15";
constexpr const char* low_red = "dark-red 45 brown 40 red 15";
constexpr const char* poor_silver = "green 60 brown 40";
constexpr const char* copper_brown = "brown 85 green 10 dark-red 5";
constexpr const char* inert = "no-reaction 90 brown 5 grey 5";
constexpr const char* tin_yellow = "yellow 65 grey 20 no-reaction 15";

// Brass is denser than ideal by 8.5 % a unit of zinc (CuZn37: 8.44), aluminium bronze by 35 % a unit of aluminium.
const std::vector<Family>& families()
{
  static const std::vector<Family> rows{
      {"fine silver", Ag, {{Cu, 0.0, 0.002}}, 0, 0, 0.002, none, fine_red},
      {"hard silver", Ag, {{Cu, 0.03, 0.11}, {Ni, 0.0, 0.01}}, 0, 0, 0.002, none, sterling_red},
      {"silver 958", Ag, {{Cu, 0.038, 0.045}}, 0, 0, 0.002, none, sterling_red},
      {"sterling", Ag, {{Cu, 0.062, 0.077}, {Zn, 0.0, 0.006}}, 0, 0.003, 0.003, none, sterling_red},
      {"silver 900", Ag, {{Cu, 0.096, 0.104}}, 0, 0, 0.002, none, sterling_red},
      {"silver 835", Ag, {{Cu, 0.158, 0.172}}, 0, 0.002, 0.003, none, low_red},
      {"silver 800", Ag, {{Cu, 0.185, 0.210}}, 0, 0.002, 0.003, none, low_red},
      {"silver 720", Ag, {{Cu, 0.26, 0.30}}, 0, 0, 0.003, none, poor_silver},
      {"silver 625", Ag, {{Cu, 0.36, 0.39}}, 0, 0, 0.003, none, poor_silver},
      {"silver 500", Ag, {{Cu, 0.36, 0.48}, {Zn, 0.0, 0.08, 0.08}, {Ni, 0.0, 0.08}}, 0, 0, 0.003, none, poor_silver},
      {"silver 400", Ag, {{Cu, 0.50, 0.58}, {Ni, 0.0, 0.06}, {Mn, 0.0, 0.04}}, 0, 0, 0.003, none, poor_silver},
      {"silver-cadmium oxide", Ag, {{CdO, 0.08, 0.17}}, 0, 0.012, 0.005, none, "bright-red 60 red 40"},
      {"silver-cadmium", Ag, {{Cd, 0.05, 0.20}}, 0, 0, 0.003, none, "bright-red 50 red 50"},
      {"silver-nickel low",
       Ag,
       {{Ni, 0.08, 0.20}},
       0,
       0.008,
       0.004,
       "weak 70 no-pull 15 strong 15",
       "bright-red 65 red 35"},
      {"silver-nickel high", Ag, {{Ni, 0.20, 0.40}}, 0, 0.010, 0.004, "strong 60 weak 40", "red 60 bright-red 40"},
      {"silver-tungsten", Ag, {{W, 0.35, 0.80}}, 0, 0.025, 0.006, none, "red 55 bright-red 20 dark-red 20 grey 5"},
      {"silver-tungsten carbide",
       Ag,
       {{WC, 0.20, 0.65}, {C, 0.0, 0.03}},
       0,
       0.025,
       0.006,
       none,
       "red 55 bright-red 20 dark-red 20 grey 5"},
      {"silver-molybdenum", Ag, {{Mo, 0.30, 0.65}}, 0, 0.02, 0.006, none, "red 60 dark-red 30 grey 10"},
      {"silver-graphite", Ag, {{C, 0.02, 0.06}}, 0, 0.015, 0.006, none, "bright-red 60 red 30 dark-red 10"},
      {"silver-tin oxide", Ag, {{SnO2, 0.06, 0.14}, {In, 0.0, 0.04}}, 0, 0.010, 0.005, none, "bright-red 65 red 35"},
      {"silver-zinc oxide", Ag, {{ZnO, 0.06, 0.10}}, 0, 0.012, 0.005, none, "bright-red 65 red 35"},
      {"silver-palladium",
       Ag,
       {{Pd, 0.20, 0.60}, {Cu, 0.0, 0.06}},
       0,
       0,
       0.004,
       none,
       "no-reaction 50 red 30 brown 20"},
      {"silver braze", Ag, {{Cu, 0.20, 0.32}, {Zn, 0.15, 0.26, 0.05}, {Cd, 0.0, 0.22}}, 0, 0, 0.005, none, poor_silver},
      {"phosphor braze", Cu, {{Ag, 0.02, 0.15}}, -0.065, 0, 0.006, none, copper_brown},
      {"copper", Cu, {{Ag, 0.0, 0.0008}, {Cr, 0.0, 0.004}}, 0, 0.001, 0.002, none, copper_brown},
      {"brass", Cu, {{Zn, 0.10, 0.42, 0.085}, {Pb, 0.0, 0.03}}, 0, 0.001, 0.003, "no-pull 95 weak 5", copper_brown},
      {"bronze", Cu, {{Sn, 0.03, 0.11}, {Zn, 0.0, 0.04, 0.08}}, 0, 0.002, 0.004, none, copper_brown},
      {"gunmetal",
       Cu,
       {{Sn, 0.03, 0.10}, {Zn, 0.02, 0.08, 0.08}, {Pb, 0.0, 0.08}},
       0,
       0.015,
       0.005,
       none,
       copper_brown},
      {"beryllium copper", Cu, {{Be, 0.004, 0.02, -0.4}}, 0, 0, 0.003, none, copper_brown},
      {"aluminium bronze",
       Cu,
       {{Al, 0.04, 0.11, 0.35}, {Fe, 0.0, 0.04}, {Ni, 0.0, 0.05}},
       0,
       0.003,
       0.004,
       "no-pull 80 weak 20",
       copper_brown},
      {"nickel silver",
       Cu,
       {{Ni, 0.08, 0.22}, {Zn, 0.17, 0.30, 0.10}},
       0,
       0.001,
       0.003,
       none,
       "brown 50 green 25 blue 25"},
      {"cupronickel", Cu, {{Ni, 0.10, 0.31}}, 0, 0, 0.002, none, "brown 40 blue 40 green 20"},
      {"copper-graphite", Cu, {{C, 0.05, 0.40}}, 0, 0.10, 0.02, none, "brown 80 no-reaction 20"},
      {"carbon brush", C, {{Cu, 0.0, 0.10}}, 0, 0.20, 0.03, none, inert},
      {"nickel", Ni, {{Mn, 0.0, 0.03}}, 0, 0, 0.003, strong, "blue 70 no-reaction 20 green 10"},
      {"steel", Fe, {{C, 0.0, 0.01}, {Mn, 0.0, 0.015}}, 0, 0, 0.003, strong, "black 55 brown 30 no-reaction 15"},
      {"stainless austenitic",
       Fe,
       {{Cr, 0.16, 0.20}, {Ni, 0.07, 0.13}, {Mn, 0.0, 0.02}},
       0.012,
       0,
       0.003,
       "no-pull 70 weak 30",
       inert},
      {"stainless ferritic", Fe, {{Cr, 0.12, 0.18}}, -0.002, 0, 0.003, strong, inert},
      {"iron-nickel", Fe, {{Ni, 0.36, 0.52}}, -0.01, 0, 0.003, strong, "no-reaction 50 brown 25 black 25"},
      {"aluminium",
       Al,
       {{Cu, 0.0, 0.045}, {Mn, 0.0, 0.015}},
       0,
       0.001,
       0.004,
       none,
       "no-reaction 60 yellow 25 grey 15"},
      {"zinc", Zn, {{Al, 0.0, 0.05}, {Cu, 0.0, 0.02}}, 0, 0.008, 0.004, none, "brown 45 grey 30 yellow 15 green 10"},
      {"solder", Sn, {{Pb, 0.30, 0.70}}, 0, 0.004, 0.003, none, tin_yellow},
      {"lead", Pb, {{Sb, 0.0, 0.06}}, 0, 0.003, 0.003, none, "yellow 80 grey 20"},
      {"pewter", Sn, {{Sb, 0.02, 0.08}, {Cu, 0.005, 0.025}}, 0, 0.006, 0.004, none, tin_yellow},
      {"tungsten", W, {{Ni, 0.0, 0.002}}, 0, 0.008, 0.003, none, "no-reaction 85 grey 15"},
      {"molybdenum", Mo, {{Ti, 0.0, 0.005}}, 0, 0.006, 0.003, none, "no-reaction 85 grey 15"},
      {"tungsten-copper", W, {{Cu, 0.15, 0.48}}, 0, 0.025, 0.006, none, "brown 65 no-reaction 25 grey 10"},
      {"hardmetal", WC, {{Co, 0.05, 0.16}}, 0, 0.002, 0.003, "weak 80 strong 20", inert},
      {"gold 900", Au, {{Cu, 0.08, 0.105}}, 0, 0, 0.002, none, inert},
      {"gold 18 ct", Au, {{Ag, 0.06, 0.18}, {Cu, 0.08, 0.17}}, 0, 0.003, 0.003, none, inert},
      {"gold 14 ct", Au, {{Ag, 0.08, 0.28}, {Cu, 0.12, 0.30}, {Zn, 0.0, 0.03, 0.08}}, 0, 0.003, 0.003, none, inert},
      {"gold contact alloy", Au, {{Ag, 0.08, 0.30}, {Ni, 0.0, 0.05}}, 0, 0, 0.003, none, inert},
      {"gold coat", Au, {{Co, 0.0, 0.005}}, -0.05, 0, 0.01, none, inert},
      {"palladium", Pd, {{Cu, 0.0, 0.15}}, 0, 0, 0.003, none, "no-reaction 80 brown 20"},
      {"platinum", Pt, {{Cu, 0.0, 0.05}}, 0, 0.002, 0.003, none, "no-reaction 1"},
      {"cobalt-chromium", Co, {{Cr, 0.25, 0.31}, {Mo, 0.04, 0.07}}, 0.005, 0.003, 0.004, "no-pull 60 weak 40", inert},
      {"titanium", Ti, {{Al, 0.0, 0.06}}, 0, 0, 0.004, none, inert},
      {"silver coat", Ag, {{Cu, 0.0, 0.003}}, -0.005, 0, 0.006, none, fine_red},
      {"tin coat", Sn, {{Pb, 0.0, 0.10}}, 0, 0, 0.01, none, tin_yellow},
      {"nickel coat", Ni, {{Co, 0.0, 0.01}}, -0.005, 0, 0.01, "no-pull 60 weak 40", "blue 65 no-reaction 35"},
      {"cadmium coat", Cd, {{Zn, 0.0, 0.01}}, 0, 0, 0.01, none, "no-reaction 40 grey 30 yellow 30"},
      {"zinc coat", Zn, {{Fe, 0.0, 0.01}}, 0, 0, 0.01, none, "brown 45 grey 30 yellow 15 green 10"},
      {"copper coat", Cu, {{Sn, 0.0, 0.01}}, 0, 0, 0.006, none, copper_brown},
  };
  return rows;
}

double uniform(Random& random)
{
  return std::uniform_real_distribution<double>(0.0, 1.0)(random);
}

}  // namespace

int family_called(std::string_view name)
{
  const auto& rows = families();
  const auto found = std::find_if(rows.begin(), rows.end(), [&](const Family& f) { return f.name == name; });
  if (found == rows.end()) {
    throw std::logic_error("no family " + std::string(name));
  }
  return static_cast<int>(found - rows.begin());
}

std::string_view family_name(int family)
{
  return families().at(family).name;
}

Substance draw_substance(int family, Random& random)
{
  const Family& row = families().at(family);
  Substance made;
  made.family = family;
  double rest = 1.0, volume = 0.0, departure = row.departure;
  const auto add = [&](Element element, double fraction) {
    volume += fraction / densities[element];
    made.silver += element == Ag ? fraction : 0.0;
    // 0.8754 is the share of the metal in CdO: 112.41 / 128.41.
    made.cadmium += element == Cd ? fraction : element == CdO ? 0.8754 * fraction : 0.0;
  };
  for (const Share& share : row.shares) {
    const double fraction = share.low + (share.high - share.low) * 0.5 * (uniform(random) + uniform(random));
    rest -= fraction;
    departure += fraction * share.departure;
    add(share.element, fraction);
  }
  add(row.balance, rest);
  double pores = 0.0;
  if (row.pores > 0.0) {
    pores = std::min(0.4, std::exponential_distribution<double>(1.0 / row.pores)(random));
  }
  const double scatter = std::normal_distribution<double>(0.0, row.scatter)(random);
  made.density_g_cm3 = (1.0 + departure) * (1.0 + scatter) * (1.0 - pores) / volume;
  return made;
}

std::string draw_word(std::string_view odds, Random& random)
{
  struct Parsed {
    std::vector<std::string> words;
    std::discrete_distribution<std::size_t> choose;
  };
  static std::map<std::string, Parsed, std::less<>> known;
  auto match = known.find(odds);
  if (match == known.end()) {
    std::istringstream text{std::string(odds)};
    Parsed parsed;
    std::vector<double> weights;
    std::string word;
    for (double weight = 0.0; text >> word >> weight;) {
      parsed.words.push_back(word);
      weights.push_back(weight);
    }
    parsed.choose = std::discrete_distribution<std::size_t>(weights.begin(), weights.end());
    match = known.emplace(odds, parsed).first;
  }
  return match->second.words[match->second.choose(random)];
}

std::string draw_magnet(int family, Random& random)
{
  return draw_word(families().at(family).magnet, random);
}

std::string draw_reagent(int family, Random& random)
{
  return draw_word(families().at(family).reagent, random);
}

}  // namespace world
