#include "sitting_world.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "bilancetta/density.hpp"

using namespace bilancetta;

namespace testing
{

namespace
{

constexpr double evaporation_g = 0.0002;

double uniform(std::mt19937_64& random, double low, double high)
{
  return std::uniform_real_distribution<double>(low, high)(random);
}
double normal(std::mt19937_64& random, double sd)
{
  return sd > 0.0 ? std::normal_distribution<double>(0.0, sd)(random) : 0.0;
}

// Thiesen's equation as refitted by Tanaka et al. 2001, written out a second time.
double water_at(double c)
{
  return 0.99997495 * (1.0 - std::pow(c - 3.983035, 2) * (c + 301.797) / (522528.9 * (c + 69.34881)));
}

double displayed(std::mt19937_64& random, double value, const Scale& scale)
{
  return std::round((value + normal(random, scale.repeatability_g)) / scale.readability_g) * scale.readability_g;
}

}  // namespace

namespace
{

// What stays with a name: the error of the scale at that load, and the density that is stated.
struct Memory {
  std::map<std::string, std::pair<double, double>> linearity;
  std::map<std::string, double> stated;
};

void read_scale(Piece& p, const World& world, const Body& body, const Sitting& s, double liquid, double time,
                Memory& memory, std::mt19937_64& random)
{
  constexpr double k = 1.0 - 0.0012 / 8.0;
  const Scale& scale = world.scale;
  const double own = std::sqrt(1.0 - world.zero_part - world.drift_part * time * time);
  const double air = 0.0012 * (1.0 + uniform(random, -0.05, 0.05));
  const double volume = body.mass_g / body.density_g_cm3;
  const double surface = std::max(8.0 * std::pow(volume, 2.0 / 3.0), 0.05);
  const double bubble_mean = bubble_mean_g_cm2(world.wetting) * surface;
  const double bubbles = bubble_mean > 0.0 ? std::exponential_distribution<double>(1.0 / bubble_mean)(random) : 0.0;
  std::pair<double, double> linearity{uniform(random, -1.0, 1.0) * scale.linearity_g,
                                      uniform(random, -1.0, 1.0) * scale.linearity_g * own};
  if (world.linearity_by_load && !body.name.empty()) {
    linearity = memory.linearity.try_emplace(body.name, linearity).first->second;
  }
  const double shared = s.zero_g + time * s.drift_g + (time > 0.0 ? world.zero_step_g : 0.0);
  const double dry = (1.0 + s.gain) * (body.mass_g - air * volume) / k;
  const double displaced = (1.0 + s.gain) * (liquid - air) * volume / k + bubbles + uniform(random, -0.0005, 0.0005);
  const bool rise = world.way == Way::rise;
  const double gone = rise ? 0.5 * evaporation_g * (1.0 + own * uniform(random, -1.0, 1.0)) : 0.0;
  Readings& r = p.weighing.readings;
  r.dry_g = {displayed(random, dry + linearity.first, scale)};
  (rise ? r.rise_g : r.submerged_g) = {
      displayed(random, (rise ? displaced - gone : dry - displaced) + shared + linearity.second, scale)};
  if (body.resting) {
    r.cup_resting_g =
        displayed(random, dry - gone + shared + uniform(random, -1.0, 1.0) * scale.linearity_g * own, scale);
  }
}

}  // namespace

Sitting simulated_sitting(const World& world, const std::vector<Body>& bodies, std::mt19937_64& random)
{
  const Scale& scale = world.scale;
  const double box = std::hypot(scale.linearity_g, world.way == Way::rise ? 0.5 * evaporation_g : 0.0) / std::sqrt(3.0);
  const bool other_liquid = world.liquid_stated_u > 0.0;
  const double stated = other_liquid ? 1.0 : water_at(20.0);
  const double liquid =
      other_liquid ? 1.0 + normal(random, world.liquid_stated_u) : water_at(20.0 + normal(random, world.water_sd_k));
  Sitting s;
  s.liquid_off = liquid - stated;
  s.zero_g = normal(random, std::sqrt(world.zero_part) * box) + normal(random, world.more_zero_sd_g);
  s.drift_g = normal(random, std::sqrt(world.drift_part) * box);
  s.gain = normal(random, world.gain_sd);
  Memory memory;
  const double steps = std::max(static_cast<double>(bodies.size()) - 1.0, 1.0);
  for (std::size_t i = 0; i < bodies.size(); ++i) {
    const Body& body = bodies[i];
    Piece p;
    p.name = body.name;
    p.weighing.scale = scale;
    p.weighing.surroundings.wetting = world.wetting;
    if (other_liquid) {
      p.weighing.surroundings.liquid_density_g_cm3 = stated;
      p.weighing.surroundings.liquid_density_u_g_cm3 = world.liquid_stated_u;
    }
    read_scale(p, world, body, s, liquid, static_cast<double>(i) / steps - 0.5, memory, random);
    if (body.known_u_g_cm3 > 0.0) {
      const double known = body.density_g_cm3 + normal(random, body.known_u_g_cm3);
      p.reference_density_g_cm3 = body.name.empty() ? known : memory.stated.try_emplace(body.name, known).first->second;
      p.reference_u_g_cm3 = body.known_u_g_cm3;
    }
    if (body.known_mass) {
      p.reference_mass_g = body.mass_g;
    }
    s.pieces.push_back(p);
    s.density.push_back(body.density_g_cm3);
    s.mass_g.push_back(body.mass_g);
  }
  return s;
}

Held held_of(const Sitting& sitting, const SittingResult& result)
{
  Held all;
  for (std::size_t i = 0; i < sitting.pieces.size(); ++i) {
    if (!sitting.pieces[i].reference_density_g_cm3) {
      const Weighing w = corrected(result, sitting.pieces[i].weighing, static_cast<long>(i) + 1);
      const DensitySummary density = summary_of(density_curve_of(w), w);
      all.held += density.low <= sitting.density[i] && sitting.density[i] <= density.high ? 1 : 0;
      ++all.pieces;
    }
  }
  return all;
}

void add_blunder(Piece& piece, bool dry, double times)
{
  const Scale& scale = piece.weighing.scale;
  Readings& r = piece.weighing.readings;
  double variance = std::pow(scale.readability_g, 2) / 12.0 + std::pow(scale.repeatability_g, 2) +
                    std::pow(scale.linearity_g, 2) / 3.0;
  if (!dry) {
    const double volume = displacement_of(r).displaced_g;
    const double bubbles =
        bubble_mean_g_cm2(piece.weighing.surroundings.wetting) * std::max(8.0 * std::pow(volume, 2.0 / 3.0), 0.05);
    variance += std::pow(0.0005, 2) / 3.0 + bubbles * bubbles;
  }
  (dry ? r.dry_g : r.rise_g.empty() ? r.submerged_g : r.rise_g).front() += times * std::sqrt(variance);
}

}  // namespace testing
