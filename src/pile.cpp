#include "bilancetta/pile.hpp"

#include <algorithm>

namespace bilancetta
{

std::string_view name_of(Pile pile)
{
  constexpr std::string_view names[] = {"solid-silver", "silver-on-base",  "tungsten-bearing", "other-precious",
                                        "base-metal",   "cadmium-suspect", "undecided"};
  return names[static_cast<int>(pile)];
}

Pile pile_for(const Tables& tables, const Hypothesis& h)
{
  if (h.kind == Kind::open_mix) {
    return Pile::undecided;
  }
  const auto of_silver = [](std::string_view group) {
    return group.starts_with("silver") && !group.starts_with("silver-braze") && !group.starts_with("silver-palladium");
  };
  const std::string_view group = tables.materials[h.outer_material].group;
  const bool noble = group.starts_with("gold") || group.starts_with("palladium") || group.starts_with("rhodium");
  if (h.build == Build::plated && noble && of_silver(tables.materials[h.inner_material].group)) {
    return Pile::solid_silver;  // that carries the mass
  }
  if (group == "amalgam" || group == "sealed-mercury") {
    return Pile::undecided;  // on no pile with others
  }
  if (group.find("tungsten") != std::string_view::npos || group.starts_with("hardmetal")) {
    return Pile::tungsten_bearing;
  }
  if (noble || group.starts_with("platinum") || group.starts_with("silver-palladium")) {
    return Pile::other_precious;
  }
  if (of_silver(group)) {
    return h.build == Build::solid ? Pile::solid_silver : Pile::silver_on_base;
  }
  return Pile::base_metal;
}

Pile pile_of(const std::array<double, material_piles>& mass, double cadmium, bool explained,
             const PileThresholds& thresholds)
{
  if (cadmium >= thresholds.cadmium) {
    return Pile::cadmium_suspect;
  }
  const auto best = std::max_element(mass.begin(), mass.end());
  return explained && *best >= thresholds.sure ? static_cast<Pile>(best - mass.begin()) : Pile::undecided;
}

Pile unless_doubtful(Pile pile, bool hollow, bool contradicted, bool seen)
{
  return hollow || ((contradicted || !seen) && pile != Pile::cadmium_suspect) ? Pile::undecided : pile;
}

}  // namespace bilancetta
