#include <fmt/core.h>

#include <algorithm>

#include "bilancetta/verdict.hpp"

namespace bilancetta
{

namespace
{

constexpr double caution_from = 0.02;  // a hazard this plausible is shown

}  // namespace

std::string pile_of(const Tables& tables, const Analysis& a, const PileThresholds& thresholds)
{
  constexpr const char* names[] = {"solid-silver", "silver-on-base", "tungsten-bearing", "other-precious",
                                   "base-metal"};
  double mass[5] = {};
  double cadmium = 0.0;
  const auto cadmium_bit = std::find_if(tables.cautions.begin(), tables.cautions.end(),
                                        [](const Caution& c) { return c.key == "cadmium"; }) -
                           tables.cautions.begin();
  for (std::size_t i = 0; i < a.posterior.size(); ++i) {
    const Member& member = *(*a.members)[i];
    const Hypothesis& h = member.hypothesis;
    if (h.kind == Kind::open_mix) {
      continue;
    }
    cadmium += (member.hazards >> cadmium_bit & 1U) != 0 ? a.posterior[i] : 0.0;
    const std::string& group = tables.materials[h.outer_material].group;
    const auto starts = [&](std::string_view word) { return group.compare(0, word.size(), word) == 0; };
    const bool tungsten = group.find("tungsten") != std::string::npos || starts("hardmetal");
    const bool precious =
        starts("gold") || starts("palladium") || starts("platinum") || starts("rhodium") || starts("silver-palladium");
    const bool silver = starts("silver") && !starts("silver-braze") && !precious;
    const int pile = tungsten ? 2 : precious ? 3 : silver ? (h.build == Build::solid ? 0 : 1) : 4;
    mass[pile] += a.posterior[i];
  }
  if (cadmium >= thresholds.cadmium) {
    return "cadmium-suspect";
  }
  const auto* best = std::max_element(std::begin(mass), std::end(mass));
  return a.explained && *best >= thresholds.pile ? names[best - mass] : "undecided";
}

std::vector<CautionShown> cautions_of(const Tables& tables, const Analysis& a, const Piece& piece)
{
  std::vector<CautionShown> shown;
  const Place& place = place_called(tables, piece.context.place);
  const bool drop_used =
      std::any_of(piece.context.answers.given.begin(), piece.context.answers.given.end(),
                  [](const auto& given) { return given.first.find("reagent") != std::string::npos; });
  for (std::size_t k = 0; k < tables.cautions.size(); ++k) {
    const Caution& caution = tables.cautions[k];
    double probability = 0.0;
    for (std::size_t i = 0; i < a.posterior.size(); ++i) {
      // The open mix always holds some cadmium; it counts only when nothing named explains the piece.
      const bool mix = !a.explained && caution.key == "cadmium" && (*a.members)[i]->hypothesis.kind == Kind::open_mix;
      probability += mix || ((*a.members)[i]->hazards >> k & 1U) != 0 ? a.posterior[i] : 0.0;
    }
    const bool of_place = std::find(place.hazards.begin(), place.hazards.end(), caution.key) != place.hazards.end();
    if (probability >= caution_from) {
      shown.push_back({caution.key, caution.urgency, caution.why, caution.text, probability});
    } else if (of_place || (drop_used && (caution.key == "acid" || caution.key == "chromium-vi"))) {
      shown.push_back(
          {caution.key, of_place ? "note" : caution.urgency,
           of_place ? fmt::format("old pieces from a {} may come with it", place.key) : "you used a test drop",
           caution.text, -1.0});
    }
  }
  const auto rank = [](const CautionShown& c) { return c.urgency == "stop" ? 0 : c.urgency == "care" ? 1 : 2; };
  std::stable_sort(shown.begin(), shown.end(), [&](const auto& x, const auto& y) { return rank(x) < rank(y); });
  return shown;
}

}  // namespace bilancetta
