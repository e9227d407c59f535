#include "jar_report_words.hpp"

#include <fmt/core.h>

#include <algorithm>

namespace bilancetta
{

std::string pieces(long n)
{
  return n == 1 ? "1 piece" : fmt::format("{} pieces", n);
}

namespace
{

// A caution is shown from a small probability on, so that most of its pieces may lie on other piles.
std::string why_of(const JarSummary& s, const Caution& caution, long counted)
{
  const auto pile = std::find_if(s.piles.begin(), s.piles.end(),
                                 [](const PileTotal& p) { return p.pile == name_of(Pile::cadmium_suspect); });
  const long suspect = pile == s.piles.end() ? 0 : pile->pieces;
  return caution.key != "cadmium" || suspect >= counted
             ? pieces(counted)
             : fmt::format("{}, of which {} on the pile {} and the others elsewhere", pieces(counted), suspect,
                           name_of(Pile::cadmium_suspect));
}

}  // namespace

std::vector<JarCaution> cautions_in(const Tables& tables, const JarSummary& s)
{
  std::vector<JarCaution> all;
  for (const char* urgency : {"stop", "care", "note"}) {
    for (std::size_t k = 0; k < tables.cautions.size(); ++k) {
      const Caution& c = tables.cautions[k];
      const auto counted = s.cautions.find(static_cast<int>(k));
      const bool of_place = std::any_of(tables.places.begin(), tables.places.end(), [&](const Place& place) {
        return std::find(place.hazards.begin(), place.hazards.end(), c.key) != place.hazards.end();
      });
      if (counted != s.cautions.end() && c.urgency == urgency) {
        all.push_back({&c, c.urgency, why_of(s, c, counted->second), counted->second});
      } else if (counted == s.cautions.end() && (s.of_place >> k & 1U) != 0 &&
                 (of_place ? std::string("note") : c.urgency) == urgency) {
        all.push_back(
            {&c, urgency, of_place ? "old pieces from such places may come with it" : "a test drop was used", 0});
      }
    }
  }
  return all;
}

}  // namespace bilancetta
