#include "simulated_pieces.hpp"

#include <algorithm>
#include <cmath>

using namespace bilancetta;

namespace validation
{

namespace
{

constexpr double standard_air = 0.0012;
// Conventional mass: weights of 8 g/cm3 in standard air (OIML D 28:2004).
constexpr double per_reading = 1.0 - standard_air / 8.0;

}  // namespace

double PieceSource::uniform(double low, double high)
{
  return std::uniform_real_distribution<double>(low, high)(random_);
}

double PieceSource::normal(double sd)
{
  return std::normal_distribution<double>(0.0, sd)(random_);
}

Weighing PieceSource::weighed(const Scale& scale, double dry_g, double density)
{
  const auto shown = [&](double value) {
    return std::round((value + normal(scale.repeatability_g) + uniform(-scale.linearity_g, scale.linearity_g)) /
                      scale.readability_g) *
           scale.readability_g;
  };
  const double air = standard_air * (1.0 + uniform(-0.05, 0.05));
  const double water = water_density_g_cm3(std::clamp(20.0 + normal(3.0), 1.0, 39.0));
  const double volume = dry_g / density;
  const double surface = std::max(8.0 * std::pow(volume, 2.0 / 3.0), 0.05);
  const double displaced = (water - air) * dry_g / (density - air) +
                           std::exponential_distribution<double>(1.0 / (1e-4 * surface))(random_) +
                           uniform(-0.0005, 0.0005) - uniform(0.0, 0.0002);
  Weighing w;
  w.scale = scale;
  w.as_typed = true;  // graphite and hollow ware look like a mix-up
  w.surroundings.wetting = Wetting::soaped;
  w.readings.dry_g = {shown(dry_g)};
  w.readings.rise_g = {shown(displaced)};
  return w;
}

SimulatedPiece PieceSource::draw(const std::vector<const Member*>& members, const std::vector<double>& prior,
                                 const Scale& scale, double dry_g)
{
  SimulatedPiece piece;
  piece.member = std::discrete_distribution<std::size_t>(prior.begin(), prior.end())(random_);
  const Hypothesis& h = members[piece.member]->hypothesis;
  double z[max_variables] = {};
  for (int k = 0; k < h.variables; ++k) {
    z[k] = normal(1.0);
  }
  const Outcome<double> outcome = h.evaluate(z);
  piece.density = outcome.density * std::exp(normal(h.scatter));
  piece.mass_g = per_reading * dry_g * piece.density / (piece.density - standard_air);
  for (int c = 0; c < static_cast<int>(tables_->constituents.size()); ++c) {
    piece.fractions.push_back(fraction_of(h, outcome, c));
  }
  piece.weighing = weighed(scale, dry_g, piece.density);
  return piece;
}

}  // namespace validation
