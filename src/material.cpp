#include "bilancetta/material.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace bilancetta
{

std::string_view name_of(Provenance provenance)
{
  constexpr std::string_view names[] = {"looked-up", "common-practice", "no-source-yet"};
  return names[static_cast<int>(provenance)];
}

std::string_view name_of(Commonness commonness)
{
  constexpr std::string_view names[] = {"absent", "rare", "sometimes", "common", "chief"};
  return names[static_cast<int>(commonness)];
}

double weight_of(Commonness commonness)
{
  constexpr double weights[] = {0.05, 0.5, 3.0, 10.0, 30.0};
  return weights[static_cast<int>(commonness)];
}

Commonness commonest(const std::map<std::string, Commonness>& found)
{
  Commonness most = Commonness::absent;
  for (const auto& [place, commonness] : found) {
    most = std::max(most, commonness);
  }
  return most;
}

int free_quantities(const Material& material)
{
  int count = material.porous || material.departure.high > material.departure.low ? 1 : 0;
  for (std::size_t i = 0; i < material.components.size(); ++i) {
    const Range& fraction = material.components[i].fraction;
    count += static_cast<int>(i) != material.balance && fraction.high > fraction.low ? 1 : 0;
  }
  return count;
}

namespace
{

// Relative variance of the ideal density below and above the typical one, if each constituent in turn takes room from
// the balance.
std::pair<double, double> variances_by_composition(const Material& material,
                                                   const std::vector<Constituent>& constituents)
{
  const double typical = ideal_density_g_cm3(material, constituents);
  double below = 0.0;
  double above = 0.0;
  for (std::size_t i = 0; i < material.components.size(); ++i) {
    const Range& range = material.components[i].fraction;
    for (const double end : {range.low, range.high}) {
      Material changed = material;
      changed.components[i].fraction.typical = end;
      changed.components[material.balance].fraction.typical += range.typical - end;
      const double off = (ideal_density_g_cm3(changed, constituents) / typical - 1.0) / two_sided_95;
      (off < 0.0 ? below : above) += off * off;
    }
  }
  return {below, above};
}

}  // namespace

double ideal_density_g_cm3(const Material& material, const std::vector<Constituent>& constituents)
{
  double volume = 0.0;
  double mass = 0.0;
  for (const Component& component : material.components) {
    volume += component.fraction.typical / constituents[component.constituent].density_g_cm3;
    mass += component.fraction.typical;
  }
  return mass / volume;
}

MeasuredSpread measured_spread(const Material& material, const std::vector<Constituent>& constituents)
{
  constexpr double scatter_step = 0.0005;
  constexpr double counts_from = 0.5;  // of the variance that is explained (judgement)
  const auto square = [](double x) { return x * x; };
  const auto [composition_below, composition_above] = variances_by_composition(material, constituents);
  const Range& density = material.density;
  const double below = square((1.0 - density.low / density.typical) / two_sided_95) - composition_below;
  const double above = square((density.high / density.typical - 1.0) / two_sided_95) - composition_above;
  const double both = std::sqrt(std::max(0.0, std::min(below, above)));
  MeasuredSpread spread;
  spread.scatter = both > material.scatter ? scatter_step * std::ceil(both / scatter_step - 1e-6) : material.scatter;
  const double variance = square(spread.scatter);
  const auto beyond = [&](double side, double composition) {
    const double left = side - variance;
    return left > counts_from * (composition + variance) ? two_sided_95 * std::sqrt(left) : 0.0;
  };
  const double factor = density.typical / ideal_density_g_cm3(material, constituents);
  spread.departure = {factor * (1.0 - beyond(below, composition_below)) - 1.0, factor - 1.0,
                      factor * (1.0 + beyond(above, composition_above)) - 1.0};
  return spread;
}

double typical_density_g_cm3(const Material& material, const std::vector<Constituent>& constituents)
{
  const double pores = material.porous ? material.pores.typical : 0.0;
  return ideal_density_g_cm3(material, constituents) * (1.0 - pores) * (1.0 + material.departure.typical);
}

}  // namespace bilancetta
