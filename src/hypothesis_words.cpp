#include "hypothesis_words.hpp"

#include <fmt/core.h>

#include <map>

namespace bilancetta
{

namespace
{

// "silver-copper" reads better as an alloy; a metal's own name needs nothing.
std::string words_of_family(const std::string& group)
{
  static const std::map<std::string, std::string> words = {
      {"silver", "fine silver"},
      {"silver-copper", "silver-copper alloy (table or coin silver)"},
      {"nickel-silver", "nickel silver"},
      {"stainless-steel", "stainless steel"},
      {"iron-nickel", "iron-nickel alloy"},
      {"tin-lead", "tin-lead alloy"},
      {"silver-cadmium-oxide", "silver-cadmium oxide"},
      {"silver-tin-oxide", "silver-tin oxide"},
      {"silver-zinc-oxide", "silver-zinc oxide"},
      {"silver-tungsten-carbide", "silver-tungsten carbide"},
      {"rhodium", "rhodium or ruthenium"},
      {"silver-braze", "silver brazing alloy"},
      {"copper-phosphorus-braze", "copper-phosphorus brazing alloy"},
      {"sealed-mercury", "sealed part with mercury"},
      {"fusible-alloy", "fusible bismuth alloy"},
      {"beryllium-copper", "beryllium copper"},
      {"aluminium-bronze", "aluminium bronze"},
      {"tungsten-heavy-alloy", "tungsten heavy alloy"},
      {"metal-graphite", "copper-graphite"},
      {"zinc", "zinc alloy"},
      {"aluminium", "aluminium alloy"},
      {"gold", "gold alloy"}};
  const auto match = words.find(group);
  return match == words.end() ? group : match->second;
}

std::string words_of_open_mix(const Tables& tables)
{
  std::string names;
  const std::vector<int>& all = tables.open_mix.constituents;
  for (std::size_t k = 0; k < all.size(); ++k) {
    names.append(k == 0 ? "" : k + 1 == all.size() ? " and " : ", ").append(tables.constituents[all[k]].name);
  }
  return "some other mix of " + names;
}

}  // namespace

std::string hypothesis_words(const Tables& tables, const Hypothesis& h)
{
  if (h.kind == Kind::open_mix) {
    return words_of_open_mix(tables);
  }
  const std::string& outer = tables.materials[h.outer_material].name;
  if (h.inner_material < 0) {
    return (h.kind == Kind::hollow ? "hollow " : "") + outer;
  }
  const char* how = h.kind == Kind::plated  ? "plated on"
                    : h.both_faces          ? "on both faces of"
                    : h.kind == Kind::inlay ? "face on"
                                            : "joined to";
  return fmt::format("{} {} {}", outer, how, tables.materials[h.inner_material].name);
}

std::string family_words(const Tables& tables, const Hypothesis& h)
{
  if (h.kind == Kind::open_mix) {
    return words_of_open_mix(tables);
  }
  const std::string outer = words_of_family(tables.materials[h.outer_material].group);
  const std::string inner = h.inner_material < 0 ? "" : words_of_family(tables.materials[h.inner_material].group);
  switch (h.kind) {
    case Kind::plated:
      return fmt::format("{} plate on {}", outer, inner);
    case Kind::inlay:
      return fmt::format("{} face on {} {} base", outer,
                         std::string_view("aeiou").find(inner[0]) != std::string_view::npos ? "an" : "a", inner);
    case Kind::hollow:
      return fmt::format("hollow or filled {}", outer);
    case Kind::joined:
      return fmt::format("{} joined to {}", outer, inner);
    default:
      return outer.starts_with("sealed") ? outer : fmt::format("solid {}", outer);
  }
}

}  // namespace bilancetta
