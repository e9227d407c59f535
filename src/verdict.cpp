#include "bilancetta/verdict.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "bilancetta/error.hpp"
#include "candidates.hpp"
#include "sentence.hpp"

namespace bilancetta
{

namespace
{

constexpr double caution_from = 0.02;       // a hazard this plausible is shown
constexpr double cadmium_pile_from = 0.10;  // and from here on the piece goes to the cadmium pile
constexpr double pile_from = 0.70;          // a pile needs this much, else undecided

std::array<double, 4> builds_of(const Analysis& analysis, const std::vector<double>& posterior)
{
  std::array<double, 4> builds{};
  for (std::size_t i = 0; i < posterior.size(); ++i) {
    builds[static_cast<int>((*analysis.members)[i]->hypothesis.build)] += posterior[i];
  }
  return builds;
}

double half_difference(const std::array<double, 4>& a, const std::array<double, 4>& b)
{
  double total = 0.0;
  for (int i = 0; i < 4; ++i) {
    total += 0.5 * std::abs(a[i] - b[i]);
  }
  return total;
}

// What the answer rests on: each part is left out and the change of P(build) is looked at.
void find_leanings(const Tables& tables, const Piece& piece, Verdict& v)
{
  const Analysis& a = v.analysis;
  const std::vector<double> flat(a.evidence.size(), 1.0);
  Context even = piece.context;
  even.even_odds = true;
  const std::vector<double> even_prior = prior_of(tables, *a.members, even);
  const auto change = [&](const std::vector<double>& posterior) {
    return half_difference(builds_of(a, posterior), a.builds);
  };
  const auto without_place = posterior_of(even_prior, a.evidence, v.background.test_likelihood);
  v.leans_on_weight = change(posterior_of(v.background.prior, flat, v.background.test_likelihood));
  v.leans_on_tests = change(posterior_of(v.background.prior, a.evidence, flat));
  v.leans_on_place = change(without_place);
  const double total = std::max(v.leans_on_weight + v.leans_on_tests + v.leans_on_place, 1e-12);
  v.leans_on_weight /= total;
  v.leans_on_tests /= total;
  v.leans_on_place /= total;
  const auto builds = builds_of(a, without_place);
  const auto top = std::max_element(builds.begin(), builds.end()) - builds.begin();
  const auto own = std::max_element(a.builds.begin(), a.builds.end()) - a.builds.begin();
  if (top != own) {
    v.why.push_back(
        fmt::format("With even odds (every material alike) \"{}\" would be likelier than \"{}\": the answer leans on "
                    "where it was found.",
                    name_of(all_builds[top]), name_of(all_builds[own])));
  }
}

// An answer that hardly any hypothesis allows once everything else is known.
void find_conflicts(const Tables& tables, const Piece& piece, Verdict& v)
{
  const Analysis& a = v.analysis;
  for (std::size_t k = 0; k < piece.context.answers.given.size(); ++k) {
    Answers without = piece.context.answers;
    const auto [test, answer] = without.given[k];
    without.given.erase(without.given.begin() + static_cast<std::ptrdiff_t>(k));
    const BenchOdds odds(tables, without);
    double expected = 0.0;
    double total = 0.0;
    for (std::size_t i = 0; i < a.evidence.size(); ++i) {
      const double base = v.background.prior[i] * a.evidence[i];
      if (base > 1e-9) {
        total += base * odds.likelihood((*a.members)[i]->hypothesis);
        expected += base * v.background.test_likelihood[i];
      }
    }
    if (total > 0.0 && expected / total < 0.04) {
      v.conflicts.push_back(fmt::format(
          "{} = {} is not what the weight and the other answers would lead one to expect (about {:.0f} in 100 "
          "would answer so); look again before trusting either",
          test, answer, std::max(1.0, 100 * expected / total)));
    }
  }
}

void add_mass_and_volume(const Piece& piece, Verdict& v)
{
  const Weighing& w = piece.weighing;
  const double dry = displacement_of(w.readings).dry_g;
  const Analysis& a = v.analysis;
  const Scale& s = w.scale;
  const double repeats = static_cast<double>(w.readings.dry_g.size());
  v.mass_g = mass_g(dry, a.density.value, a.curve.air_g_cm3);
  v.mass_u = std::sqrt(s.readability_g * s.readability_g / 12.0 + s.repeatability_g * s.repeatability_g / repeats +
                       s.linearity_g * s.linearity_g / 3.0);
  v.volume_cm3 = v.mass_g / a.density.value;
  v.volume_u = v.volume_cm3 * std::hypot(v.mass_u / v.mass_g, a.density.standard_uncertainty / a.density.value);
}

void add_worth(const Prices& prices, Verdict& v)
{
  if (prices.per_g.empty()) {
    return;
  }
  Band worth;
  for (const auto& [metal, price] : prices.per_g) {
    const Band& grams = v.precious_g[metal];
    worth.median += price * prices.pays * grams.median;
    worth.low += price * prices.pays * grams.low;
    worth.high += price * prices.pays * grams.high;
  }
  v.worth = worth;
}

}  // namespace

bool marks_allowed(const Tables& tables, const Piece& piece, Marks marks)
{
  return marks == Marks::always || (marks == Marks::by_place && place_called(tables, piece.context.place).marks);
}

int pieces_to_pool(const Analysis& analysis, const Weighing& weighing)
{
  constexpr double steps_wanted = 20.0;
  const double dry = displacement_of(weighing.readings).dry_g;
  // Without a usable displacement, think of a metal of 9 g/cm3.
  const double density = analysis.density.bounded ? analysis.density.value : 9.0;
  const double per_piece = dry / density / weighing.count;
  return std::max(1,
                  static_cast<int>(std::ceil(steps_wanted * weighing.scale.readability_g / std::max(per_piece, 1e-9))));
}

double expected_reading_g(const Analysis& analysis, const Weighing& weighing, double density_g_cm3)
{
  const double dry = displacement_of(weighing.readings).dry_g;
  const double displaced =
      dry * (analysis.curve.liquid_g_cm3 - analysis.curve.air_g_cm3) / (density_g_cm3 - analysis.curve.air_g_cm3);
  switch (way_of(weighing.readings)) {
    case Way::rise:
      return displaced + (weighing.readings.cup_before_g ? *weighing.readings.cup_before_g : 0.0);
    case Way::submerged:
      return dry - displaced + weighing.readings.holder_g.value_or(0.0);
    case Way::bottle:
      return *weighing.readings.bottle_full_g + dry - displaced;
  }
  return 0.0;
}

std::vector<std::string> warnings_of(const Analysis& a, const Piece& piece)
{
  const Weighing& w = piece.weighing;
  std::vector<std::string> warnings;
  const Displacement d = displacement_of(w.readings);
  const double steps = d.displaced_g / w.scale.readability_g;
  const bool seen = steps >= 10.0;
  if (!a.density.bounded && !seen) {
    warnings.push_back(fmt::format(
        "The scale cannot see what this piece displaces: all it says is a density above {:.1f} g/cm3. Weigh about "
        "{} like pieces together.",
        a.density.low, pieces_to_pool(a, w)));
  } else if (!seen) {
    warnings.push_back(fmt::format(
        "The piece displaces only {:.0f} steps of this scale, so the density is rough. Weigh about {} like pieces "
        "together, or use a finer scale.",
        std::max(steps, 0.0), pieces_to_pool(a, w)));
  }
  if (w.readings.rise_g.size() == 1 && std::abs(w.readings.rise_g[0] - d.dry_g) < 2.0 * w.scale.readability_g) {
    warnings.emplace_back(
        "The rise equals the dry weight: the piece seems to rest on the bottom of the cup instead of hanging.");
  }
  if (a.density.plain > density_grid::highest_g_cm3 ||
      (d.displaced_g > 0.0 && a.density.plain < density_grid::lowest_g_cm3)) {
    warnings.push_back(
        fmt::format("The readings give {:.1f} g/cm3, outside 0.5 to 23: no metal weighs that. Check tare and readings.",
                    a.density.plain));
  }
  for (const auto* repeats : {&w.readings.dry_g, &w.readings.rise_g, &w.readings.submerged_g}) {
    if (repeats->size() >= 3 &&
        std::adjacent_find(repeats->begin(), repeats->end(), std::not_equal_to<>()) == repeats->end()) {
      warnings.emplace_back("The repeats are all the same: they cannot be finer together than one step of the scale.");
      break;
    }
  }
  return warnings;
}

std::string pile_of(const Tables& tables, const Analysis& a)
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
  if (cadmium >= cadmium_pile_from) {
    return "cadmium-suspect";
  }
  const auto* best = std::max_element(std::begin(mass), std::end(mass));
  return a.explained && *best >= pile_from ? names[best - mass] : "undecided";
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

Verdict verdict_of(const Prepared& prepared, const Piece& piece, const VerdictOptions& options)
{
  const Tables& tables = prepared.tables();
  Verdict v;
  v.analysis = weigh_up(piece.weighing, options.level);
  std::optional<Claim> claim;
  if (!piece.claim.empty()) {
    claim = claim_called(tables, piece.claim);
  }
  const auto& members = prepared.members(volume_each_cm3(v.analysis, piece.weighing));
  v.background = background_of(prepared, members, piece.context);
  hold_against(v.analysis, members, v.background, true);
  v.budget = budget_of(piece.weighing);
  v.warnings = warnings_of(v.analysis, piece);
  add_mass_and_volume(piece, v);
  const std::vector<int> plausible = plausible_members(v.analysis);
  add_candidates(tables, piece, options.level, plausible, v);
  add_fractions(tables, options.level, plausible, v);
  add_worth(options.prices, v);
  if (claim) {
    v.claim = claim_verdict_of(tables, v.analysis, piece);
  }
  v.cautions = cautions_of(tables, v.analysis, piece);
  v.pile = pile_of(tables, v.analysis);
  const auto proposals = proposals_for(tables, members, piece.context.answers, plausible);
  v.next = next_tests_of(tables, v.analysis, v.background, proposals, plausible, options.question,
                         claim ? &*claim : nullptr, marks_allowed(tables, piece, options.marks));
  find_conflicts(tables, piece, v);
  find_leanings(tables, piece, v);
  add_sentences(tables, piece, v);
  v.analysis.members = nullptr;  // the prepared hypotheses may end before the verdict
  return v;
}

Verdict verdict_of(const Tables& tables, const Piece& piece, const VerdictOptions& options)
{
  const double volume_cm3 = volume_each_cm3(weigh_up(piece.weighing, options.level), piece.weighing);
  return verdict_of(Prepared(tables, {volume_cm3, piece.weighing.area_cm2}), piece, options);
}

}  // namespace bilancetta
