// Does the total of a jar hold the silver that is in it? Jars of the world that was not made from the tables
// (world.hpp), weighed once and without lots or bench tests, go through a whole batch as a user's would. One sort of
// jar is a bit of everything, as that world has it; the other is of five kinds of piece of one place, which the program
// is not told.
//
// usage: jar_totals [JARS [SEED]]      prints a section of docs/validation.md; exit 1 below the bar

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <nlohmann/json.hpp>
#include <random>
#include <set>
#include <sstream>
#include <string>

#include "bilancetta/batch.hpp"
#include "world.hpp"

using namespace bilancetta;

namespace
{

struct Jar {
  std::string csv = "piece,dry_g,rise_g,found,form,scale,wetting\n";
  double silver_g = 0.0, mass_g = 0.0;
  int pieces = 0;

  void add(const world::Piece& piece)
  {
    const world::Reading& r = piece.reading;
    const int decimals = r.jeweller ? 3 : 2;
    csv += fmt::format("{},{:.{}f},{:.{}f},{},{},{},{}\n", ++pieces, r.dry_g, decimals, r.rise_g, decimals, piece.place,
                       piece.form, r.jeweller ? "jeweller" : "pocket", r.soaped ? "soaped" : "dunked");
    silver_g += piece.silver * piece.mass_g;
    mass_g += piece.mass_g;
  }
};

Jar bit_of_everything(int pieces, world::Random& random)
{
  Jar jar;
  while (jar.pieces < pieces) {
    jar.add(world::draw_piece(random));
  }
  return jar;
}

// Of one place, weighed on one scale.
Jar five_kinds(int pieces, world::Random& random)
{
  const world::Piece first = world::draw_piece(random);
  const auto belongs = [&](const world::Piece& piece) {
    return piece.place == first.place && piece.reading.jeweller == first.reading.jeweller;
  };
  std::set<std::string> kinds = {first.kind};
  while (kinds.size() < 5) {
    const world::Piece piece = world::draw_piece(random);
    if (belongs(piece)) {
      kinds.insert(piece.kind);
    }
  }
  Jar jar;
  while (jar.pieces < pieces) {
    const world::Piece piece = world::draw_piece(random);
    if (belongs(piece) && kinds.contains(piece.kind)) {
      jar.add(piece);
    }
  }
  return jar;
}

/// How often bands held the truth, and how far off the others were.
struct Held {
  int jars = 0, held = 0, above = 0, below = 0;
  double width = 0.0, worst = 0.0;  // of the jar's mass

  void add(const Jar& jar, double low, double high)
  {
    ++jars;
    above += jar.silver_g > high ? 1 : 0;
    below += jar.silver_g < low ? 1 : 0;
    held += low <= jar.silver_g && jar.silver_g <= high ? 1 : 0;
    width += (high - low) / jar.mass_g;
    worst = std::max({worst, (low - jar.silver_g) / jar.mass_g, (jar.silver_g - high) / jar.mass_g});
  }
  [[nodiscard]] double share() const { return static_cast<double>(held) / jars; }
};

void judge(const Jar& jar, bool learn, Held& all_alike, Held& independent)
{
  BatchOptions options;
  options.learn = learn;
  options.summary = Summary::json;
  options.defaults[Field::as_typed] = "yes";  // light and hollow pieces look like a mix-up
  std::istringstream in(jar.csv);
  std::ostringstream out;
  const auto summary = nlohmann::json::parse(run_batch(built_in_tables(), options, in, out).summary);
  const auto add = [&](Held& held, const char* total) {
    const auto& silver = summary[total]["Ag"];
    held.add(jar, silver["low"], silver["high"]);
  };
  add(all_alike, "precious_g");
  add(independent, "precious_g_independent");
}

void print(const char* jars, bool learn, const char* total, const Held& held)
{
  fmt::print("| {} | {} | {} | {} | {:.0f} % | {} | {} | {:.0f} % | {:.0f} % |\n", jars, learn ? "yes" : "no", total,
             held.jars, 100 * held.share(), held.above, held.below, 100 * held.width / held.jars, 100 * held.worst);
  std::fflush(stdout);
}

bool judged(int jars, world::Random random)
{
  fmt::print(
      "| jar | `--learn` | rows of like weight | jars | held | more | less | width, of the mass | worst beyond |\n"
      "|---|---|---|---|---|---|---|---|---|\n");
  bool good = true;
  for (const bool few : {false, true}) {
    Held fixed, fixed_each, learned, learned_each;
    for (int k = 0; k < jars; ++k) {
      const Jar jar = few ? five_kinds(200, random) : bit_of_everything(60, random);
      judge(jar, false, fixed, fixed_each);
      judge(jar, true, learned, learned_each);
    }
    const char* name = few ? "200 pieces of five kinds" : "60 pieces of everything";
    print(name, false, "are one kind", fixed);
    print(name, false, "a case each", fixed_each);
    print(name, true, "are one kind", learned);
    print(name, true, "a case each", learned_each);
    // Within three standard deviations of what chance makes of 95 %. Jars of five kinds are not as the world has them.
    const double least = 0.95 - 3.0 * std::sqrt(0.95 * 0.05 / jars);
    good = good && (few || (fixed.share() >= least && learned.share() >= least));
  }
  return good;
}

}  // namespace

int main(int argc, char** argv)
try {
  const int jars = argc > 1 ? std::atoi(argv[1]) : 100;
  return judged(jars, world::Random(argc > 2 ? static_cast<unsigned>(std::atoi(argv[2])) : 31U)) ? 0 : 1;
} catch (const std::exception& error) {
  std::fprintf(stderr, "%s\n", error.what());
  return 2;
}
