#include "bilancetta/material.hpp"

#include <algorithm>

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
  int count = material.porous ? 1 : 0;
  for (std::size_t i = 0; i < material.components.size(); ++i) {
    const Range& fraction = material.components[i].fraction;
    count += static_cast<int>(i) != material.balance && fraction.high > fraction.low ? 1 : 0;
  }
  return count;
}

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

double typical_density_g_cm3(const Material& material, const std::vector<Constituent>& constituents)
{
  const double pores = material.porous ? material.pores.typical : 0.0;
  return ideal_density_g_cm3(material, constituents) * (1.0 - pores) * (1.0 + material.departure);
}

}  // namespace bilancetta
