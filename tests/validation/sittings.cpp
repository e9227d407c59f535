// One sitting adjusted together: how much better, how honest, and what becomes of blunders.
//
// usage: sittings [SITTINGS]      prints a section of docs/validation.md; exit 1 below the bars

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <functional>
#include <tuple>
#include <utility>

#include "bilancetta/sitting.hpp"
#include "sitting_world.hpp"

using namespace bilancetta;
using namespace testing;

namespace
{

constexpr double densities[] = {2.7, 8.0, 8.9, 10.3, 10.49, 15.0, 19.3};

// Unknown pieces with known ones spread over the sitting; with `twice`, the known ones are two pieces in turn.
std::vector<Body> bodies(int unknown, int known, double mass_g, double known_u, bool twice, std::mt19937_64& random)
{
  std::vector<Body> all;
  const double first[] = {8.41, 10.49};
  for (int i = 0; i < unknown + known; ++i) {
    const int before = i * known / (unknown + known);
    const bool is_known = known > 0 && (i + 1) * known / (unknown + known) > before;
    Body b;
    b.mass_g = mass_g * std::uniform_real_distribution<double>(0.7, 1.4)(random);
    b.density_g_cm3 = densities[random() % std::size(densities)];
    if (is_known) {
      b.known_u_g_cm3 = known_u;
      b.density_g_cm3 = first[before % 2];
      if (twice) {
        b.name = before % 2 == 0 ? "brass" : "silver";
        b.mass_g = mass_g * (before % 2 == 0 ? 1.3 : 1.1);
      }
    }
    all.push_back(b);
  }
  return all;
}

SittingResult adjusted(const Sitting& sitting, const SittingPriors& priors = {})
{
  SittingBuilder builder(priors);
  for (std::size_t i = 0; i < sitting.pieces.size(); ++i) {
    builder.add(static_cast<long>(i) + 1, sitting.pieces[i]);
  }
  return builder.adjust();
}

struct Score {
  double alone = 0.0, together = 0.0;  // sums of squared relative errors
  int pieces = 0, held_alone = 0, held_together = 0;
  double width_ratio = 0.0;
};

void add_score(const Sitting& s, const SittingResult& result, Score& score)
{
  for (std::size_t i = 0; i < s.pieces.size(); ++i) {
    if (s.pieces[i].reference_density_g_cm3) {
      continue;
    }
    const Weighing& w = s.pieces[i].weighing;
    const Weighing c = corrected(result, w, static_cast<long>(i) + 1);
    const DensitySummary a = summary_of(density_curve_of(w), w);
    const DensitySummary b = summary_of(density_curve_of(c), c);
    const double truth = s.density[i];
    ++score.pieces;
    score.alone += std::pow(a.value / truth - 1.0, 2);
    score.together += std::pow(b.value / truth - 1.0, 2);
    score.held_alone += a.low <= truth && truth <= a.high ? 1 : 0;
    score.held_together += b.low <= truth && truth <= b.high ? 1 : 0;
    score.width_ratio += (b.high - b.low) / (a.high - a.low);
  }
}

struct Case {
  const char* what;
  World world;
  SittingPriors priors;
  double mass_g, known_u;
  int known;
  bool as_modelled;  // the 94-96 % bar holds; else the world is one that the library does not assume
  double least_gain;
};

World world_of(ScaleClass scale, Way way)
{
  World w;
  w.scale = scale_of(scale);
  w.way = way;
  return w;
}

std::vector<Case> cases()
{
  std::vector<Case> all;
  for (const auto& [name, scale, mass] :
       {std::tuple{"pocket", ScaleClass::pocket, 20.0}, std::tuple{"jeweller", ScaleClass::jeweller, 5.0},
        std::tuple{"laboratory", ScaleClass::laboratory, 2.0}}) {
    for (const Way way : {Way::rise, Way::submerged}) {
      all.push_back({name, world_of(scale, way), {}, mass, 0.005, 3, true, 0.0});
    }
  }
  World brine = world_of(ScaleClass::laboratory, Way::submerged);
  brine.liquid_stated_u = 0.01;
  all.push_back({"laboratory, liquid known to 1 %", brine, {}, 5.0, 0.005, 3, true, 1.5});
  World holder = world_of(ScaleClass::jeweller, Way::submerged);
  holder.more_zero_sd_g = 0.005;
  all.push_back({"jeweller, tare off by 5 mg, said so", holder, {0.005, 0.0, 0.0005}, 5.0, 0.005, 3, true, 1.5});
  all.push_back({"jeweller, tare off by 5 mg, not said", holder, {}, 5.0, 0.005, 5, false, 1.5});
  World own = world_of(ScaleClass::jeweller, Way::rise);
  own.zero_part = own.drift_part = 0.0;
  all.push_back({"jeweller, nothing shared but the water", own, {}, 5.0, 0.005, 5, false, 0.0});
  World by_load = world_of(ScaleClass::jeweller, Way::rise);
  by_load.linearity_by_load = true;
  all.push_back(
      {"jeweller, known pieces weighed again and again, linearity by load", by_load, {}, 5.0, 0.005, 6, false, 0.0});
  World stepped = world_of(ScaleClass::jeweller, Way::rise);
  stepped.zero_step_g = 0.006;
  all.push_back({"jeweller, zero moves by 6 mg midway", stepped, {}, 5.0, 0.005, 8, false, 0.0});
  World whole = own;
  whole.zero_part = 1.0;
  all.push_back({"jeweller, linearity and evaporation all shared", whole, {}, 5.0, 0.005, 5, false, 0.0});
  return all;
}

bool coverage(int sittings)
{
  fmt::print(
      "| bench | way | known pieces | pieces | held alone, % | held together, % | rms error, alone over together | "
      "width, together over alone |\n|---|---|---|---|---|---|---|---|\n");
  bool good = true;
  for (const Case& c : cases()) {
    std::mt19937_64 random(20240601);
    Score score;
    for (int i = 0; i < sittings; ++i) {
      const Sitting s = simulated_sitting(
          c.world, bodies(20, c.known, c.mass_g, c.known_u, c.world.linearity_by_load, random), random);
      add_score(s, adjusted(s, c.priors), score);
    }
    const double held = 100.0 * score.held_together / score.pieces;
    const double gain = std::sqrt(score.alone / score.together);
    // Pieces of a sitting are not independent: half of them are counted for the simulation's own error.
    const double slack = 300.0 * std::sqrt(0.95 * 0.05 / (0.5 * score.pieces));
    const bool ok = (!c.as_modelled || (held > 94.0 - slack && held < 96.0 + slack)) && gain >= c.least_gain;
    good = good && ok;
    fmt::print("| {} | {} | {} | {} | {:.1f} | {:.1f}{} | {:.2f} | {:.2f} |\n", c.what,
               c.world.way == Way::rise ? "rise" : "submerged", c.known, score.pieces,
               100.0 * score.held_alone / score.pieces, held, ok ? "" : " **outside**", gain,
               score.width_ratio / score.pieces);
  }
  return good;
}

struct BlunderScore {
  int found = 0, others = 0, false_alarms = 0;
  std::vector<double> moves;  // largest of each sitting, in standard uncertainties
};

bool flags(const SittingResult& result, const std::function<bool(const CheckedReading&)>& wanted)
{
  return std::any_of(result.readings.begin(), result.readings.end(),
                     [&](const CheckedReading& c) { return c.flagged && wanted(c); });
}

double largest_move(const Sitting& s, const SittingResult& clean, const SittingResult& hurt)
{
  double move = 0.0;
  for (std::size_t p = 0; p < s.pieces.size(); ++p) {
    if (!s.pieces[p].reference_density_g_cm3) {
      const Weighing a = corrected(clean, s.pieces[p].weighing, static_cast<long>(p) + 1);
      const Weighing b = corrected(hurt, s.pieces[p].weighing, static_cast<long>(p) + 1);
      const DensitySummary before = summary_of(density_curve_of(a), a);
      const DensitySummary after = summary_of(density_curve_of(b), b);
      move = std::max(move, std::abs(after.value - before.value) / before.standard_uncertainty);
    }
  }
  return move;
}

BlunderScore blunder_score(const World& world, double mass_g, bool dry, int sittings)
{
  std::mt19937_64 random(20240602);
  BlunderScore score;
  for (int i = 0; i < sittings; ++i) {
    Sitting s = simulated_sitting(world, bodies(10, 5, mass_g, 0.005, true, random), random);
    const SittingResult clean = adjusted(s);
    std::vector<long> known;
    for (std::size_t p = 0; p < s.pieces.size(); ++p) {
      if (s.pieces[p].reference_density_g_cm3) {
        known.push_back(static_cast<long>(p));
      }
    }
    const long hit = known[random() % known.size()];
    add_blunder(s.pieces[hit], dry, random() % 2 == 0 ? 10.0 : -10.0);
    const SittingResult hurt = adjusted(s);
    const auto reading = dry ? SittingReading::dry : SittingReading::in_liquid;
    score.found += flags(hurt, [&](const auto& c) { return c.row == hit + 1 && c.reading == reading; }) ? 1 : 0;
    score.others += flags(hurt, [&](const auto& c) { return c.row != hit + 1; }) ? 1 : 0;
    score.false_alarms += flags(clean, [](const auto&) { return true; }) ? 1 : 0;
    score.moves.push_back(largest_move(s, clean, hurt));
  }
  std::sort(score.moves.begin(), score.moves.end());
  return score;
}

// One blunder of ten standard deviations among five rows of two known pieces.
bool blunders(int sittings)
{
  fmt::print(
      "\n| bench | way | blunder in | found, % | another row named too, % | rest moved by less than u/2, % | 99 % "
      "point of "
      "the move, u | sittings without a blunder that flag something, % |\n|---|---|---|---|---|---|---|---|\n");
  bool good = true;
  const double percent = 100.0 / sittings;
  // The bars are for 1,000 sittings; fewer are allowed three standard deviations of the simulation itself.
  const double slack = sittings < 1000 ? 300.0 * std::sqrt(0.01 * 0.99 / sittings) : 0.0;
  for (const auto& [name, scale, mass] :
       {std::tuple{"jeweller", ScaleClass::jeweller, 5.0}, std::tuple{"laboratory", ScaleClass::laboratory, 2.0}}) {
    for (const Way way : {Way::rise, Way::submerged}) {
      for (const bool dry : {true, false}) {
        const BlunderScore s = blunder_score(world_of(scale, way), mass, dry, sittings);
        const auto within = std::lower_bound(s.moves.begin(), s.moves.end(), 0.5) - s.moves.begin();
        const double still = percent * static_cast<double>(within);
        const bool ok = percent * s.found >= 95.0 && still >= 99.0 - slack;
        good = good && ok;
        fmt::print("| {} | {} | {} | {:.1f}{} | {:.1f} | {:.1f} | {:.2f} | {:.1f} |\n", name,
                   way == Way::rise ? "rise" : "submerged", dry ? "dry weight" : "reading in the liquid",
                   percent * s.found, ok ? "" : " **below the bar**", percent * s.others, still,
                   s.moves[s.moves.size() * 99 / 100], percent * s.false_alarms);
      }
    }
  }
  return good;
}

}  // namespace

int main(int argc, char** argv)
{
  const int sittings = argc > 1 ? std::atoi(argv[1]) : 200;
  const bool covered = coverage(sittings);
  const bool found = blunders(sittings);
  return covered && found ? 0 : 1;
}
