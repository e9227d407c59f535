// What is found where in the simulated world, and how large and thick it is. All shares are from memory or judgement.
#include <algorithm>
#include <cmath>
#include <map>
#include <sstream>
#include <stdexcept>

#include "world.hpp"

namespace world
{
namespace
{

struct Kind {
  double weight;
  Build build;
  std::string outer, inner;  ///< substance, coat, face or wall; core, carrier or what is joined to it
};

constexpr Build solid = Build::solid, plated = Build::plated, inlay = Build::inlay;

/// Kinds as text: build, then "outer / inner" with weights, separated by commas; a semicolon ends a build.
struct PlaceText {
  std::string_view name;
  double weight;
  std::string_view kinds;
};

// Switches, thermostats, motors and starters hold the same families in one mix.
constexpr std::string_view switches =
    R"(solid: fine silver 9, hard silver 5, silver-cadmium oxide 9, silver-nickel low 6, silver-nickel high 3,
       silver-tin oxide 4, silver-cadmium 3, brass 7, copper 7, bronze 3, steel 3, stainless austenitic 2,
       molybdenum 2;
     inlay: fine silver / copper 8, silver-cadmium oxide / copper 6, silver-nickel low / brass 4,
       fine silver / steel 3;
     plated: silver coat / copper 7, silver coat / brass 8, nickel coat / brass 3, tin coat / brass 2,
       nickel coat / steel 1;
     other: iron-nickel / brass 2;)";

constexpr PlaceText place_texts[]{
    {"breaker", 10, R"(solid: silver-tungsten 18, silver-tungsten carbide 9, silver-graphite 9, silver-nickel high 5,
       silver-cadmium oxide 6, tungsten-copper 7, silver-molybdenum 2, copper 8, brass 4, steel 4;
     inlay: silver-tungsten / copper 10, silver-tungsten carbide / copper 6, silver-graphite / copper 6;
     plated: silver coat / copper 10, silver coat / brass 3, tin coat / copper 2, cadmium coat / steel 1;
     other: copper / steel 2;)"},
    {"contactor", 17,
     R"(solid: silver-cadmium oxide 24, silver-tin oxide 13, silver-nickel low 7, silver-zinc oxide 2, copper 5,
       brass 5, steel 3;
     inlay: silver-cadmium oxide / copper 11, silver-cadmium oxide / brass 5, silver-tin oxide / copper 10,
       silver-nickel low / copper 5;
     plated: silver coat / copper 6, silver coat / brass 5, nickel coat / brass 2, cadmium coat / steel 2,
       zinc coat / steel 1;
     other: silver-cadmium oxide / steel 2;)"},
    {"relay", 9,
     R"(solid: fine silver 12, hard silver 9, silver-nickel low 12, silver-cadmium oxide 11, silver-tin oxide 5,
       silver-palladium 4, gold contact alloy 1, tungsten 2, palladium 1, nickel silver 4, bronze 4,
       iron-nickel 3, beryllium copper 2;
     inlay: silver-nickel low / copper 10, fine silver / copper 8, silver-cadmium oxide / cupronickel 5;
     plated: silver coat / bronze 6, silver coat / brass 5, gold coat / fine silver 1;
     other: fine silver / bronze 2;)"},
    {"switch", 9, switches},
    {"thermostat", 3, switches},
    {"motor", 2, switches},
    {"starter", 3, switches},
    {"connector", 9,
     R"(solid: brass 14, copper 10, bronze 4, aluminium 4, beryllium copper 3, steel 2, zinc 3, gunmetal 2;
     plated: silver coat / copper 14, silver coat / brass 18, silver coat / bronze 3, tin coat / brass 6,
       tin coat / copper 8, nickel coat / brass 5, nickel coat / zinc 1;
     inlay: fine silver / copper 3;
     other: brass / steel 1;)"},
    {"board", 2, R"(solid: solder 25, lead 8, copper 12, aluminium 8, iron-nickel 8, steel 6, silver-palladium 4;
     plated: tin coat / copper 15, tin coat / brass 8, silver coat / copper 6, gold coat / brass 3;)"},
    {"brush", 1, R"(solid: silver-graphite 30, copper-graphite 30, carbon brush 20, copper 8, bronze 4;
     other: silver-graphite / copper 8;)"},
    {"tableware", 14, R"(solid: sterling 22, silver 835 8, silver 800 10, silver 958 1, silver 900 3, nickel silver 5,
       stainless austenitic 9, stainless ferritic 3, pewter 3, brass 2, aluminium 1;
     plated: silver coat / nickel silver 21, silver coat / brass 5, silver coat / copper 3,
       silver coat / steel 1, silver coat / pewter 1;
     other: sterling 3;)"},
    {"jewellery", 9,
     R"(solid: sterling 38, silver 835 6, silver 900 3, fine silver 2, brass 4, gold 14 ct 4, gold 18 ct 3,
       platinum 1, stainless austenitic 4, nickel silver 2, pewter 2, zinc 2, titanium 1, copper 1;
     plated: gold coat / sterling 6, silver coat / brass 7, silver coat / copper 3, gold coat / brass 4;
     other: sterling 7;)"},
    {"coins", 8,
     R"(solid: silver 900 18, silver 835 7, sterling 6, silver 720 4, silver 625 4, silver 500 9, silver 400 3,
       fine silver 4, cupronickel 13, brass 5, bronze 5, aluminium bronze 3, nickel silver 2, nickel 4,
       aluminium 3, zinc 1, gold 900 1, steel 1;
     plated: copper coat / steel 4, copper coat / zinc 3, nickel coat / steel 3, silver coat / copper 2,
       silver coat / brass 1;)"},
};

std::string trimmed(std::string_view text)
{
  const auto first = text.find_first_not_of(" \n");
  return std::string(text.substr(first, text.find_last_not_of(" \n") + 1 - first));
}

Kind kind_of(Build build, const std::string& item)
{
  const auto space = item.rfind(' ');
  const std::string what = item.substr(0, space);
  const auto bar = what.find(" / ");
  return {std::stod(item.substr(space)), build, what.substr(0, bar),
          bar == std::string::npos ? "" : what.substr(bar + 3)};
}

std::vector<Kind> kinds_of(std::string_view text)
{
  std::vector<Kind> kinds;
  std::istringstream lines{std::string(text)};
  for (std::string line; std::getline(lines, line, ';');) {
    std::istringstream build_and_items(line);
    std::string word;
    std::getline(build_and_items, word, ':');
    const auto name = std::find(build_names.begin(), build_names.end(), trimmed(word));
    const Build build = static_cast<Build>(name - build_names.begin());
    for (std::string item; std::getline(build_and_items, item, ',');) {
      kinds.push_back(kind_of(build, trimmed(item)));
    }
  }
  return kinds;
}

struct Place {
  std::string name;
  double weight;
  std::vector<Kind> kinds;
};

std::vector<Place> all_places()
{
  std::vector<Place> rows;
  for (const PlaceText& text : place_texts) {
    rows.push_back({std::string(text.name), text.weight, kinds_of(text.kinds)});
  }
  // A jar of unknown pieces: all of it mixed, with odd metal, offcuts of brazing rod among it.
  Place unknown{"unknown", 9, {}};
  for (const Place& place : rows) {
    double sum = 0.0;
    for (const Kind& kind : place.kinds) {
      sum += kind.weight;
    }
    for (Kind kind : place.kinds) {
      kind.weight *= place.weight / sum;
      unknown.kinds.push_back(kind);
    }
  }
  for (const char* odd : {"silver braze", "phosphor braze", "hardmetal", "lead", "solder", "gunmetal", "tungsten",
                          "titanium", "cobalt-chromium", "nickel"}) {
    unknown.kinds.push_back({1.0, solid, odd, ""});
  }
  rows.push_back(unknown);
  return rows;
}

const std::vector<Place>& place_rows()
{
  static const std::vector<Place> rows = all_places();
  return rows;
}

double uniform(double low, double high, Random& random)
{
  return std::uniform_real_distribution<double>(low, high)(random);
}

double normal(double mean, double deviation, Random& random)
{
  return std::normal_distribution<double>(mean, deviation)(random);
}

/// Thickness in micrometres, log-normal about what is usual for the coat and the use.
double coat_um(const Kind& kind, const std::string& place, Random& random)
{
  if (kind.outer == "silver coat") {
    return place == "tableware" ? 18.0 * std::exp(normal(0.0, 0.5, random)) : 7.0 * std::exp(normal(0.0, 0.65, random));
  }
  if (kind.outer == "copper coat") {
    return (kind.inner == "zinc" ? 8.0 : 25.0) * std::exp(normal(0.0, 0.2, random));
  }
  return (kind.outer == "gold coat" ? 1.0 : 6.0) * std::exp(normal(0.0, 0.5, random));
}

/// Two substances by mass: the first fills this share of the volume.
void join(Piece& piece, const Substance& first, const Substance& second, double share)
{
  const double mass = share * first.density_g_cm3;
  piece.density_g_cm3 = mass + (1.0 - share) * second.density_g_cm3;
  const double part = mass / piece.density_g_cm3;
  piece.silver = part * first.silver + (1.0 - part) * second.silver;
  piece.cadmium = part * first.cadmium + (1.0 - part) * second.cadmium;
}

/// Share of the coat in a piece of that mass: thickness times surface, the surface k V^(2/3), k log-normal about
/// 8.5 (a sphere has 4.84, a thin blade 15).
double coat_share(double thickness_um, double mass_g, double density_g_cm3, Random& random)
{
  const double k = std::max(5.0, 8.5 * std::exp(normal(0.0, 0.25, random)));
  return std::min(0.6, 1e-4 * thickness_um * k * std::cbrt(density_g_cm3 / mass_g));
}

}  // namespace

const std::vector<std::string>& places()
{
  static const std::vector<std::string> names = [] {
    std::vector<std::string> list;
    for (const Place& place : place_rows()) {
      list.push_back(place.name);
    }
    return list;
  }();
  return names;
}

const std::vector<double>& place_weights()
{
  static const std::vector<double> weights = [] {
    std::vector<double> list;
    for (const Place& place : place_rows()) {
      list.push_back(place.weight);
    }
    return list;
  }();
  return weights;
}

Piece draw_made(const std::string& place, double low_g, double high_g, Random& random)
{
  const auto row =
      std::find_if(place_rows().begin(), place_rows().end(), [&](const Place& p) { return p.name == place; });
  if (row == place_rows().end()) {
    throw std::logic_error("no place " + place);
  }
  static std::map<std::string, std::discrete_distribution<std::size_t>> choices;
  auto& choose = choices[place];
  if (choose.probabilities().size() != row->kinds.size()) {
    std::vector<double> weights;
    for (const Kind& kind : row->kinds) {
      weights.push_back(kind.weight);
    }
    choose = std::discrete_distribution<std::size_t>(weights.begin(), weights.end());
  }
  const Kind& kind = row->kinds[choose(random)];
  Piece piece;
  piece.place = place;
  piece.form = place == "tableware" || place == "jewellery" || place == "unknown" ? "unsure" : "solid";
  piece.kind = kind.inner.empty() ? kind.outer : kind.outer + " on " + kind.inner;
  piece.outer = family_called(kind.outer);
  piece.inner = kind.inner.empty() ? piece.outer : family_called(kind.inner);
  piece.build = kind.build;
  do {  // log-normal about 2.5 g
    piece.mass_g = 2.5 * std::exp(normal(0.0, 1.1, random));
  } while (piece.mass_g < low_g || piece.mass_g >= high_g);

  const Substance first = draw_substance(piece.outer, random);
  if (kind.build == solid) {
    join(piece, first, first, 1.0);
    return piece;
  }
  if (kind.inner.empty()) {  // hollow: a bead or a handle
    piece.kind = "hollow " + piece.kind;
    join(piece, first, first, 1.0);
    piece.density_g_cm3 *= 1.0 - uniform(0.05, 0.60, random);
    return piece;
  }
  const Substance second = draw_substance(piece.inner, random);
  double share = uniform(0.2, 0.8, random);  // riveted or screwed together
  if (kind.build == plated) {
    share = coat_share(coat_um(kind, place, random), piece.mass_g, second.density_g_cm3, random);
  } else if (kind.build == inlay) {
    // Tips with a backing, rivets with a face, faces on a long carrier: about a fifth, 5 to 55 %.
    share = 1.0 / (1.0 + std::exp(-normal(-1.3, 0.75, random)));
  }
  join(piece, first, second, share);
  return piece;
}

}  // namespace world
