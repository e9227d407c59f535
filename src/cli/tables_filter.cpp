#include <fmt/core.h>

#include <algorithm>
#include <cctype>

#include "bilancetta/error.hpp"
#include "commands.hpp"

using namespace bilancetta;

namespace
{

// Whether the formula of a compound, such as CdO or W2C, has that symbol in it.
bool has_symbol(const std::string& formula, const std::string& symbol)
{
  for (std::size_t at = formula.find(symbol); at != std::string::npos; at = formula.find(symbol, at + 1)) {
    const std::size_t end = at + symbol.size();
    if (end == formula.size() || std::islower(static_cast<unsigned char>(formula[end])) == 0) {
      return true;
    }
  }
  return false;
}

// Itself, or as a compound.
bool holds(const Tables& tables, const Material& m, const std::string& key)
{
  return std::any_of(m.components.begin(), m.components.end(),
                     [&](const Component& c) { return has_symbol(tables.constituents[c.constituent].key, key); });
}

}  // namespace

std::vector<const Material*> materials_passing(const Tables& tables, const MaterialFilter& only)
{
  const std::string place = only.place.empty() ? "" : place_called(tables, only.place).key;
  // What the place names, and the families that are met there.
  const auto at_place = [&](const Material& m) {
    return place.empty() || m.found.contains(place) || place_called(tables, place).families.contains(m.group);
  };
  const std::string family = only.group.empty() ? "" : family_called(tables, only.group);
  std::vector<std::string> held;
  for (const std::string& name : only.holds) {
    held.push_back(constituent_called(tables, name).key);
  }
  if (!(only.from <= only.to)) {
    throw Error(ErrorCode::bad_option,
                fmt::format("{} to {} is no range: the lower end comes first", only.from, only.to),
                {.field = "--from"});
  }
  std::vector<const Material*> all;
  for (const Material& m : tables.materials) {
    const double density = typical_density_g_cm3(m, tables.constituents);
    if ((family.empty() || m.group == family) && at_place(m) && density >= only.from && density <= only.to &&
        std::all_of(held.begin(), held.end(), [&](const std::string& key) { return holds(tables, m, key); })) {
      all.push_back(&m);
    }
  }
  return all;
}
