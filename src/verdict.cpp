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
    // Answers of one kind (all drops, all colours) stand or fall together: a dead drop is dead everywhere.
    const auto [test, answer] = piece.context.answers.given[k];
    const std::string& property = test_called(tables, test).property;
    Answers without = piece.context.answers;
    std::erase_if(without.given,
                  [&](const auto& given) { return test_called(tables, given.first).property == property; });
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
      v.conflicts.push_back(
          fmt::format("{} = {} is not what the weight leads one to expect (about {:.0f} in 100 such pieces would "
                      "answer so): try it again before "
                      "trusting either",
                      test, answer, std::max(1.0, 100 * expected / total)));
    }
  }
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

namespace
{

// Repeats that are all the same, run one way, or lie further apart than the scale's noise explains.
void add_repeat_warnings(const Weighing& w, std::vector<std::string>& warnings)
{
  const std::pair<const std::vector<double>*, const Scale*> all[] = {{&w.readings.dry_g, &w.scale},
                                                                     {&w.readings.rise_g, &liquid_scale_of(w)},
                                                                     {&w.readings.submerged_g, &liquid_scale_of(w)}};
  for (const auto& [repeats, scale] : all) {
    if (repeats->size() < 2) {
      continue;
    }
    const auto [lowest, highest] = std::minmax_element(repeats->begin(), repeats->end());
    const double spread = *highest - *lowest;
    const double explained = scale->readability_g + 5.0 * scale->repeatability_g;
    const bool sorted =
        std::is_sorted(repeats->begin(), repeats->end()) || std::is_sorted(repeats->rbegin(), repeats->rend());
    if (spread == 0.0 && repeats->size() >= 3) {
      warnings.emplace_back("The repeats are all the same: together they are no finer than one step of the scale.");
    } else if (repeats->size() >= 3 && sorted && spread > scale->readability_g + 2.0 * scale->repeatability_g) {
      warnings.emplace_back(
          "The repeats run one way: bubbles that leave, water that evaporates or a scale that still warms up. "
          "Let it settle and weigh again.");
    } else if (spread > explained) {
      warnings.push_back(
          fmt::format("The repeats lie {:.3g} g apart, more than this scale's repeatability of {} g explains: give "
                      "its true repeatability, or look for what moved.",
                      spread, scale->repeatability_g));
    }
  }
}

}  // namespace

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

std::vector<std::string> warnings_of(const Analysis& a, const Piece& piece)
{
  const Weighing& w = piece.weighing;
  std::vector<std::string> warnings;
  const Displacement d = displacement_of(w.readings);
  const double steps = d.displaced_g / w.scale.readability_g;
  const bool seen = steps >= 10.0;
  const bool outside = d.displaced_g > 0.0 &&
                       (a.density.plain > density_grid::highest_g_cm3 || a.density.plain < density_grid::lowest_g_cm3);
  if (!a.density.possible || (outside && seen)) {
    warnings.push_back(fmt::format(
        "The readings give {}, and no metal weighs that: check the tare and that both readings are in their places.",
        d.displaced_g > 0.0 ? fmt::format("{:.3g} g/cm3", a.density.plain)
                            : std::string("a piece that displaces nothing")));
  } else if (!a.density.bounded && !seen) {
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
  add_repeat_warnings(w, warnings);
  return warnings;
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
  if (v.analysis.density.possible && v.analysis.read_share > 0.0) {
    v.remedy = best_remedy(piece.weighing);
    if (piece.reference_density_g_cm3) {
      v.reference = reference_check_of(v.analysis, piece);
    }
  }
  if (piece.weighing.readings.soaked_g) {
    v.open_pores = open_pores_of(piece.weighing);
  }
  const std::vector<int> plausible = plausible_members(v.analysis);
  if (!plausible.empty()) {
    add_candidates(tables, piece, options.level, plausible, v);
    add_fractions(tables, options.level, plausible, v);
    add_worth(options.prices, v);
  }
  if (claim) {
    v.claim = claim_verdict_of(tables, v.analysis, piece);
  }
  v.cautions = cautions_of(tables, v.analysis, piece);
  v.pile = pile_of(tables, v.analysis);
  const auto proposals = proposals_for(tables, members, piece.context.answers, plausible);
  const bool may_mark = marks_allowed(tables, piece, options.marks);
  for (Candidate& c : v.candidates) {
    c.told_by = telling_test_of(tables, v.analysis, v.background, proposals, plausible, c.member, may_mark);
  }
  const Claim* claimed = claim ? &*claim : nullptr;
  const Question question = options.question.value_or(most_open_question(tables, v.analysis, plausible, claimed));
  v.next = next_tests_of(tables, v.analysis, v.background, proposals, plausible, question, claimed, may_mark);
  find_conflicts(tables, piece, v);
  if (!v.conflicts.empty() || v.background.hollow) {
    v.pile = "undecided";
  }
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
