// Does the 95 % density band hold the truth in 95 of 100 weighings, and is it no wider than it must be?
//
// Weighings are simulated here from first principles, without the library's error model: true volume and
// air buoyancy, a true water temperature and expansion of the piece, bubbles, meniscus, evaporation, linearity, noise,
// rounding.
//
// usage: coverage [WEIGHINGS_PER_CELL]      prints a section of docs/validation.md; exit 1 below the bars

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <random>
#include <string>
#include <vector>

#include "bilancetta/density.hpp"

using namespace bilancetta;

namespace
{

// To two digits, without an exponent.
std::string percent(double share)
{
  return share < 0.995 ? fmt::format("{:.2g}", 100 * share) : fmt::format("{:.0f}", 100 * share);
}

struct Bench {
  const char* name;
  double step, noise, bound;
};
constexpr Bench benches[] = {
    {"pocket", 0.01, 0.004, 0.005}, {"jeweller", 0.001, 0.001, 0.001}, {"laboratory", 0.0001, 0.00017, 0.0002}};

struct Cell {
  int weighings = 0, held = 0;
  double relative_width = 0.0;  // mean of (high - low) / density
  double displacement_u = 0.0;  // typical u(B) / B
};

std::mt19937_64 random_source(20240601);
double uniform(double low, double high)
{
  return std::uniform_real_distribution<double>(low, high)(random_source);
}
double normal(double sd)
{
  return std::normal_distribution<double>(0.0, sd)(random_source);
}

double displayed(double value, const Bench& bench, double offset)
{
  return std::round((value + offset + normal(bench.noise)) / bench.step) * bench.step;
}

// One weighing of a piece of this mass and density: cup on the pan, or hung from the scale.
Weighing simulated(const Bench& bench, double mass_g, double density, int repeats, bool by_cup, double spread)
{
  mass_g *= uniform(2.0 - spread, spread);  // no weight sits at one phase of the display for ever
  const double k = 1.0 - 0.0012 / 8.0;
  const double air = 0.0012 * (1.0 + uniform(-0.05, 0.05));
  const double water_c = 20.0 + normal(3.0);
  // Thiesen's equation as refitted by Tanaka et al. 2001, written out here a second time.
  const double water =
      0.99997495 * (1.0 - std::pow(water_c - 3.983035, 2) * (water_c + 301.797) / (522528.9 * (water_c + 69.34881)));
  const double volume = mass_g / density * (1.0 + (51e-6 + normal(20e-6)) * (water_c - 20.0));
  const double surface = std::max(8.0 * std::pow(volume, 2.0 / 3.0), 0.05);
  const double dry = (mass_g - air * volume) / k;
  const double dry_offset = uniform(-bench.bound, bench.bound);
  const double wet_offset = uniform(-bench.bound, bench.bound);
  Weighing w;
  w.scale = {bench.step, bench.noise, bench.bound};
  w.surroundings.wetting = Wetting::soaped;
  for (int i = 0; i < repeats; ++i) {
    w.readings.dry_g.push_back(displayed(dry, bench, dry_offset));
  }
  const double bubbles = std::exponential_distribution<double>(1.0 / (0.0001 * surface))(random_source);
  const double displaced = (water - air) * volume / k + bubbles + uniform(-0.0005, 0.0005);
  const double evaporated = uniform(0.0, 0.0002);
  for (int i = 0; i < repeats; ++i) {
    if (by_cup) {
      w.readings.rise_g.push_back(displayed(displaced - evaporated, bench, wet_offset));
    } else {
      w.readings.submerged_g.push_back(displayed(dry - displaced, bench, wet_offset));
    }
  }
  return w;
}

Cell run_cell(const Bench& bench, double mass_g, double density, int repeats, bool by_cup, int weighings)
{
  Cell cell;
  const double displaced = mass_g / density;
  cell.displacement_u =
      std::sqrt(bench.step * bench.step / 12 + bench.noise * bench.noise / repeats + bench.bound * bench.bound / 3) /
      displaced;
  for (int i = 0; i < weighings; ++i) {
    const Weighing w = simulated(bench, mass_g, density, repeats, by_cup, 1.1);
    if (w.readings.dry_g[0] <= 0.0) {
      continue;
    }
    const DensitySummary s = summary_of(density_curve_of(w), w);
    ++cell.weighings;
    cell.held += s.low <= density && density <= s.high ? 1 : 0;
    cell.relative_width += (s.high - s.low) / density;
  }
  cell.relative_width /= cell.weighings;
  return cell;
}

// The narrowest honest band of one weighing: every density that, weighed again and again by the simulation above, shows
// the very same displays, all densities in reach equally likely beforehand. Exact, and blind to the library's curve.
double width_by_simulation(const Bench& bench, const Weighing& weighing, double mass_g, const DensitySummary& ours)
{
  const double reach = 1.2 * std::max(ours.high - ours.value, ours.value - ours.low);
  const double low = std::max(ours.value - 2.0 * reach, 0.5);
  const double high = std::min(ours.value + 2.5 * reach, 23.0);
  std::vector<double> kept;
  for (int i = 0; i < 2000000 && kept.size() < 1500; ++i) {
    const double density = uniform(low, high);
    const double near_g = mass_g + uniform(-5.0, 5.0) * (bench.step + bench.noise + bench.bound);
    const Weighing again = simulated(bench, near_g, density, 1, true, 1.0);
    if (again.readings.dry_g == weighing.readings.dry_g && again.readings.rise_g == weighing.readings.rise_g) {
      kept.push_back(density);
    }
  }
  std::sort(kept.begin(), kept.end());
  const auto at = [&](double p) { return kept[static_cast<std::size_t>(p * static_cast<double>(kept.size()))]; };
  return kept.size() < 300 ? 0.0 : at(0.975) - at(0.025);
}

// Mean width of our bands over that of the narrowest, for weighings of one bench.
double relative_width(const Bench& bench, double mass_g, int weighings)
{
  double ours = 0.0;
  double narrowest = 0.0;
  for (int i = 0; i < weighings; ++i) {
    const double mass = mass_g * uniform(0.9, 1.1);
    const Weighing w = simulated(bench, mass, 10.0, 1, true, 1.0);
    const DensitySummary s = summary_of(density_curve_of(w), w);
    const double width = width_by_simulation(bench, w, mass, s);
    if (width > 0.0) {
      ours += s.high - s.low;
      narrowest += width;
    }
  }
  return ours / narrowest;
}

// What may be held of such weighings, %. Three standard deviations of the simulation itself are allowed on the bars.
bool within_bars(const Cell& all)
{
  const double held = 100.0 * all.held / all.weighings;
  const double slack = 300.0 * std::sqrt(0.95 * 0.05 / all.weighings);
  const bool fine = all.displacement_u < 0.10;
  return fine ? held > 94.0 - slack && held < 96.0 + slack : held > 92.0 - slack && held < 99.0 + slack;
}

// Four densities together.
Cell run_densities(const Bench& bench, double mass_g, int repeats, bool by_cup, int weighings)
{
  Cell all;
  for (const double density : {2.7, 8.9, 10.49, 19.3}) {
    const Cell cell = run_cell(bench, mass_g, density, repeats, by_cup, weighings);
    all.weighings += cell.weighings;
    all.held += cell.held;
    all.relative_width += 0.25 * cell.relative_width;
    all.displacement_u += 0.25 * cell.displacement_u;
  }
  return all;
}

// Prints how often the bands of a class of scales hold; returns whether all bars are met.
bool coverage_holds(const Bench& bench, int weighings)
{
  bool good = true;
  double class_held = 0.0;
  double class_weighings = 0.0;
  for (const bool by_cup : {true, false}) {
    for (const double mass : {0.05, 0.2, 1.0, 5.0, 50.0}) {
      for (const int repeats : {1, 3, 10}) {
        if (mass < 5 * bench.step) {
          continue;
        }
        const Cell all = run_densities(bench, mass, repeats, by_cup, weighings);
        class_held += all.held;
        class_weighings += all.weighings;
        const bool ok = within_bars(all);
        good = good && ok;
        fmt::print("| {} | {} | {} | {} | {} | {:.1f}{} | {} |\n", bench.name, by_cup ? "rise" : "submerged", mass,
                   repeats, percent(all.displacement_u), 100.0 * all.held / all.weighings, ok ? "" : " **outside**",
                   percent(all.relative_width));
      }
    }
  }
  const double mean = 100.0 * class_held / class_weighings;
  const bool ok = mean >= 94.0 && mean <= 96.0;
  fmt::print("| {} | all | | | | **{:.2f}**{} | |\n", bench.name, mean, ok ? "" : " **outside**");
  return good && ok;
}

// The same for the width of the bands.
bool width_holds(const Bench& bench, int weighings)
{
  bool good = true;
  for (const double mass : {1.0, 8.0}) {
    const double ratio = relative_width(bench, mass, 1 + weighings / 25);
    good = good && ratio < 1.10;
    fmt::print("| {} | {} | {:.3f}{} |\n", bench.name, mass, ratio, ratio < 1.10 ? "" : " **too wide**");
  }
  return good;
}

}  // namespace

int main(int argc, char** argv)
{
  const int weighings = argc > 1 ? std::atoi(argv[1]) : 250;
  fmt::print(
      "| scale | way | mass, g | repeats | u(B)/B, % | held, % | mean width, % |\n|---|---|---|---|---|---|---|\n");
  bool good = true;
  for (const Bench& bench : benches) {
    good = coverage_holds(bench, weighings) && good;
  }
  fmt::print("\n| scale | mass, g | mean width of the band over the narrowest possible |\n|---|---|---|\n");
  for (const Bench& bench : benches) {
    good = width_holds(bench, weighings) && good;
  }
  return good ? 0 : 1;
}
