#pragma once

#include <algorithm>
#include <cmath>
#include <random>

#include "bilancetta/hypothesis.hpp"

namespace bilancetta
{

/// Pieces and weighings drawn by chance, for programs that hold the answers against the truth.
class Simulation
{
 public:
  explicit Simulation(unsigned seed) : source_(seed) {}

  double uniform(double low, double high) { return std::uniform_real_distribution<double>(low, high)(source_); }
  double normal(double sd) { return std::normal_distribution<double>(0.0, sd)(source_); }
  std::size_t index(const std::vector<double>& weights)
  {
    return std::discrete_distribution<std::size_t>(weights.begin(), weights.end())(source_);
  }

  /// Density of a piece made like this, g/cm3.
  double density_of(const Hypothesis& h)
  {
    double z[max_variables] = {};
    for (int k = 0; k < h.variables; ++k) {
      z[k] = normal(1.0);
    }
    return h.evaluate(z).density * std::exp(normal(h.scatter));
  }

  /// A weighing by the cup of `count` pieces of this density; the errors are those of docs/uncertainty.md:
  /// noise for each reading, one error of linearity for each load, one of the water, of the air, of bubbles and of the
  /// thread; the piece expands with the water.
  Weighing weighed(const Scale& scale, double each_g, double density, int count = 1, int repeats = 1,
                   Wetting wetting = Wetting::soaped)
  {
    const double air = 0.0012 * (1.0 + uniform(-0.05, 0.05));
    const double water_c = std::clamp(20.0 + normal(3.0), 1.0, 39.0);
    const double water = water_density_g_cm3(water_c);
    const double dry = each_g * count;
    const double surface = std::max(8.0 * std::pow(each_g / density, 2.0 / 3.0), 0.05) * count;
    const double grown = 1.0 + (51e-6 + normal(20e-6)) * (water_c - 20.0);
    const double displaced =
        (water - air) * grown * dry / (density - air) +
        std::exponential_distribution<double>(1.0 / (bubble_mean_g_cm2(wetting) * surface))(source_) +
        uniform(-0.0005, 0.0005) - uniform(0.0, 0.0002);
    Weighing w;
    w.scale = scale;
    w.count = count;
    w.as_typed = true;  // graphite and hollow ware look like a mix-up
    w.surroundings.wetting = wetting;
    w.readings.dry_g = shown(scale, dry, repeats);
    w.readings.rise_g = shown(scale, displaced, repeats);
    return w;
  }

 private:
  std::vector<double> shown(const Scale& scale, double value, int repeats)
  {
    const double off = value + uniform(-scale.linearity_g, scale.linearity_g);
    std::vector<double> readings;
    for (int k = 0; k < repeats; ++k) {
      const double reading = off + normal(scale.repeatability_g);
      readings.push_back(std::round(reading / scale.readability_g) * scale.readability_g);
    }
    return readings;
  }

  std::mt19937_64 source_;
};

}  // namespace bilancetta
