#include <fmt/core.h>

#include <algorithm>
#include <bit>
#include <map>

#include "bilancetta/verdict.hpp"

namespace bilancetta
{

Pile pile_of(const Analysis& a, const PileThresholds& thresholds)
{
  std::array<double, material_piles> mass{};
  const double cadmium = hazard_probability(a, [&](std::size_t i) { return counts_as_cadmium(a, i); });
  for (std::size_t i = 0; i < a.posterior.size(); ++i) {
    const Pile pile = a.members->traits(i).pile;
    if (pile != Pile::undecided) {
      mass[static_cast<std::size_t>(pile)] += a.posterior[i];
    }
  }
  return pile_of(mass, cadmium, a.explained, thresholds);
}

namespace
{

// Cautions of the drops that were used; only the chromate drop holds chromium(VI).
std::vector<std::string> cautions_of_drops(const Tables& tables, const Answers& answers)
{
  std::vector<std::string> keys;
  for (const auto& [test, answer] : answers.given) {
    for (const std::string& key : cautions_of_test(test_called(tables, test), answers.reagent)) {
      if (std::find(keys.begin(), keys.end(), key) == keys.end()) {
        keys.push_back(key);
      }
    }
  }
  return keys;
}

std::string title_of(const Tables& tables, const std::string& source)
{
  const auto row =
      std::find_if(tables.sources.begin(), tables.sources.end(), [&](const Source& one) { return one.key == source; });
  return row == tables.sources.end() ? "" : row->title;
}

}  // namespace

std::vector<std::string> cautions_of_test(const BenchTest& test, const std::string& reagent)
{
  std::vector<std::string> keys = test.cautions;
  if (reagent != "chromate") {
    std::erase(keys, "chromium-vi");
  }
  return keys;
}

std::vector<double> hazard_probabilities(const Tables& tables, const Analysis& a, const std::vector<int>& among)
{
  const int cadmium = find_caution(tables, "cadmium");
  std::vector<double> taught(tables.cautions.size(), 0.0);
  std::vector<double> untaught = taught;
  const auto add = [&](std::size_t i) {
    std::uint32_t bits = a.members->traits(i).hazards;
    if (cadmium >= 0) {
      bits = counts_as_cadmium(a, i) ? bits | 1U << cadmium : bits & ~(1U << cadmium);
    }
    for (; bits != 0; bits &= bits - 1) {
      taught[std::countr_zero(bits)] += a.posterior[i];
      untaught[std::countr_zero(bits)] += a.untaught.empty() ? 0.0 : a.untaught[i];
    }
  };
  if (a.untaught.empty() && !among.empty()) {
    std::for_each(among.begin(), among.end(), add);
  } else {
    for (std::size_t i = 0; i < a.posterior.size(); ++i) {
      add(i);
    }
  }
  std::transform(taught.begin(), taught.end(), untaught.begin(), taught.begin(),
                 [](double one, double other) { return std::max(one, other); });
  return taught;
}

std::vector<CautionShown> cautions_of(const Tables& tables, const Analysis& a, const Piece& piece)
{
  std::vector<CautionShown> shown;
  const Place& place = place_called(tables, piece.context.place);
  const std::vector<std::string> drops = cautions_of_drops(tables, piece.context.answers);
  const auto among = [](const std::vector<std::string>& keys, const std::string& key) {
    return std::find(keys.begin(), keys.end(), key) != keys.end();
  };
  const std::vector<double> hazards = hazard_probabilities(tables, a);
  for (std::size_t k = 0; k < tables.cautions.size(); ++k) {
    const Caution& caution = tables.cautions[k];
    const bool of_place = among(place.hazards, caution.key);
    if (hazards[k] < caution_from && !of_place && !among(drops, caution.key)) {
      continue;
    }
    CautionShown one{caution.key,  caution.urgency, caution.why,
                     caution.text, hazards[k],      title_of(tables, caution.origin.source)};
    if (hazards[k] < caution_from) {
      one.probability = -1.0;
      one.urgency = of_place ? Urgency::note : caution.urgency;
      one.why = of_place ? fmt::format("old pieces may come with it; found: {}", place.key) : "you used a test drop";
    }
    shown.push_back(std::move(one));
  }
  std::stable_sort(shown.begin(), shown.end(), [](const auto& x, const auto& y) { return x.urgency < y.urgency; });
  return shown;
}

void name_carriers(const Tables& tables, const Analysis& a, std::vector<CautionShown>& shown)
{
  for (CautionShown& one : shown) {
    if (one.probability < 0.0) {
      continue;
    }
    const Caution& caution = tables.cautions[find_caution(tables, one.key)];
    std::map<int, double> carriers;
    for (std::size_t i = 0; i < a.posterior.size(); ++i) {
      const Hypothesis& h = (*a.members)[i]->hypothesis;
      for (const int material : {h.outer_material, h.inner_material}) {
        if (material >= 0 && counts_for(caution, tables.materials[material])) {
          carriers[material] += a.posterior[i];
        }
      }
    }
    const auto likeliest = std::max_element(carriers.begin(), carriers.end(),
                                            [](const auto& x, const auto& y) { return x.second < y.second; });
    if (likeliest != carriers.end() && tables.materials[likeliest->first].key != one.key) {
      one.why += fmt::format(", likeliest as {}", tables.materials[likeliest->first].name);
    }
  }
}

StepLimits limits_of(const std::vector<CautionShown>& cautions)
{
  return step_limits([&](std::string_view key) {
    const auto shown =
        std::find_if(cautions.begin(), cautions.end(), [&](const CautionShown& c) { return c.key == key; });
    return shown == cautions.end() ? 0.0 : shown->probability;
  });
}

bool warns_of(const std::vector<CautionShown>& cautions, std::string_view key)
{
  return std::any_of(cautions.begin(), cautions.end(),
                     [&](const CautionShown& c) { return c.key == key && c.probability >= 0.0; });
}

}  // namespace bilancetta
