#include <fmt/core.h>

#include <algorithm>

#include "bilancetta/verdict.hpp"

namespace bilancetta
{

namespace
{

constexpr double caution_from = 0.02;  // a hazard this plausible is shown

}  // namespace

Pile pile_of(const Tables& tables, const Analysis& a, const PileThresholds& thresholds)
{
  std::array<double, material_piles> mass{};
  double cadmium = 0.0;
  const auto cadmium_bit = std::find_if(tables.cautions.begin(), tables.cautions.end(),
                                        [](const Caution& c) { return c.key == "cadmium"; }) -
                           tables.cautions.begin();
  for (std::size_t i = 0; i < a.posterior.size(); ++i) {
    const Member& member = *(*a.members)[i];
    cadmium += (member.hazards >> cadmium_bit & 1U) != 0 ? a.posterior[i] : 0.0;
    if (member.pile != Pile::undecided) {
      mass[static_cast<std::size_t>(member.pile)] += a.posterior[i];
    }
  }
  return pile_of(mass, cadmium, a.explained, thresholds);
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
