#include "sitting_world.hpp"

#include <algorithm>
#include <cmath>
#include <map>

using namespace bilancetta;

namespace testing
{

namespace
{

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

Sitting simulated_sitting(const World& world, const std::vector<Body>& bodies, std::mt19937_64& random)
{
  constexpr double k = 1.0 - 0.0012 / 8.0;
  constexpr double evaporation_g = 0.0002;
  const Scale& scale = world.scale;
  const bool rise = world.way == Way::rise;
  const double box = std::hypot(scale.linearity_g, rise ? 0.5 * evaporation_g : 0.0) / std::sqrt(3.0);
  Sitting s;
  const double stated = world.liquid_stated_u > 0.0 ? 1.0 : water_at(20.0);
  const double liquid = world.liquid_stated_u > 0.0 ? 1.0 + normal(random, world.liquid_stated_u)
                                                    : water_at(20.0 + normal(random, world.water_sd_k));
  s.liquid_off = liquid - stated;
  s.zero_g = normal(random, std::sqrt(world.zero_part) * box) + normal(random, world.more_zero_sd_g);
  s.drift_g = normal(random, std::sqrt(world.drift_part) * box);
  s.gain = normal(random, world.gain_sd);
  std::map<std::string, std::pair<double, double>> load_errors;
  std::map<std::string, double> stated_density;
  for (std::size_t i = 0; i < bodies.size(); ++i) {
    const Body& body = bodies[i];
    const double time =
        bodies.size() > 1 ? static_cast<double>(i) / (static_cast<double>(bodies.size()) - 1.0) - 0.5 : 0.0;
    const double own = std::sqrt(1.0 - world.zero_part - world.drift_part * time * time);
    const double air = 0.0012 * (1.0 + uniform(random, -0.05, 0.05));
    const double volume = body.mass_g / body.density_g_cm3;
    const double surface = std::max(8.0 * std::pow(volume, 2.0 / 3.0), 0.05);
    const double bubble_mean = world.wetting == Wetting::sealed ? 0.0 : bubble_mean_g_cm2(world.wetting) * surface;
    const double bubbles = bubble_mean > 0.0 ? std::exponential_distribution<double>(1.0 / bubble_mean)(random) : 0.0;
    std::pair<double, double> linearity{uniform(random, -1.0, 1.0) * scale.linearity_g,
                                        uniform(random, -1.0, 1.0) * scale.linearity_g * own};
    if (world.linearity_by_load && !body.name.empty()) {
      linearity = load_errors.try_emplace(body.name, linearity).first->second;
    }
    const double offset = s.zero_g + time * s.drift_g + linearity.second;
    const double dry = (1.0 + s.gain) * (body.mass_g - air * volume) / k;
    const double displaced = (1.0 + s.gain) * (liquid - air) * volume / k + bubbles + uniform(random, -0.0005, 0.0005);
    const double gone = rise ? 0.5 * evaporation_g * (1.0 + own * uniform(random, -1.0, 1.0)) : 0.0;
    Piece p;
    p.name = body.name;
    Weighing& w = p.weighing;
    w.scale = scale;
    w.surroundings.wetting = world.wetting;
    if (world.liquid_stated_u > 0.0) {
      w.surroundings.liquid_density_g_cm3 = stated;
      w.surroundings.liquid_density_u_g_cm3 = world.liquid_stated_u;
    }
    w.readings.dry_g = {displayed(random, dry + linearity.first, scale)};
    if (rise) {
      w.readings.rise_g = {displayed(random, displaced - gone + offset, scale)};
    } else {
      w.readings.submerged_g = {displayed(random, dry - displaced + offset, scale)};
    }
    if (body.resting) {
      w.readings.cup_resting_g = displayed(
          random, dry - gone + s.zero_g + time * s.drift_g + uniform(random, -1.0, 1.0) * scale.linearity_g * own,
          scale);
    }
    if (body.known_u_g_cm3 > 0.0) {
      const double off = normal(random, body.known_u_g_cm3);
      p.reference_density_g_cm3 = body.name.empty()
                                      ? body.density_g_cm3 + off
                                      : stated_density.try_emplace(body.name, body.density_g_cm3 + off).first->second;
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
