#include "simulated.hpp"

#include <algorithm>
#include <cmath>

using namespace bilancetta;

namespace simulated
{

std::mt19937_64& random_source()
{
  static std::mt19937_64 source(77);
  return source;
}
double uniform(double low, double high)
{
  return std::uniform_real_distribution<double>(low, high)(random_source());
}
double normal(double sd)
{
  return std::normal_distribution<double>(0.0, sd)(random_source());
}

Weighing weighed(const Scale& scale, double dry, double density)
{
  const auto shown = [&](double value) {
    return std::round((value + normal(scale.repeatability_g) + uniform(-scale.linearity_g, scale.linearity_g)) /
                      scale.readability_g) *
           scale.readability_g;
  };
  const double air = 0.0012 * (1.0 + uniform(-0.05, 0.05));
  const double water = water_density_g_cm3(std::clamp(20.0 + normal(3.0), 1.0, 39.0));
  const double volume = dry / density;
  const double surface = std::max(8.0 * std::pow(volume, 2.0 / 3.0), 0.05);
  const double displaced = (water - air) * dry / (density - air) +
                           std::exponential_distribution<double>(1.0 / (1e-4 * surface))(random_source()) +
                           uniform(-0.0005, 0.0005) - uniform(0.0, 0.0002);
  Weighing w;
  w.scale = scale;
  w.as_typed = true;  // graphite and hollow ware look like a mix-up
  w.surroundings.wetting = Wetting::soaped;
  w.readings.dry_g = {shown(dry)};
  w.readings.rise_g = {shown(displaced)};
  return w;
}

Truth truth_of(const std::vector<const Member*>& members, std::size_t member, int silver)
{
  Truth truth;
  truth.member = member;
  const Hypothesis& h = members[truth.member]->hypothesis;
  double z[max_variables] = {};
  for (int k = 0; k < h.variables; ++k) {
    z[k] = normal(1.0);
  }
  const Outcome<double> outcome = h.evaluate(z);
  truth.density = outcome.density * std::exp(normal(h.scatter));
  truth.silver = fraction_of(h, outcome, silver);
  return truth;
}

Truth drawn_truth(const std::vector<const Member*>& members, const std::vector<double>& prior, int silver)
{
  return truth_of(members, std::discrete_distribution<std::size_t>(prior.begin(), prior.end())(random_source()),
                  silver);
}

}  // namespace simulated
