#include "bilancetta/verdict.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "candidates.hpp"
#include "conflicts.hpp"
#include "leanings.hpp"
#include "sentence.hpp"

namespace bilancetta
{

bool marks_allowed(const Tables& tables, const Piece& piece, Marks marks)
{
  return marks == Marks::always || (marks == Marks::by_place && place_called(tables, piece.context.place).marks);
}

namespace
{

// Where no answer at the bench could bring cadmium below the threshold of its caution, the caution says so. What must
// not be filed has no tests that file among its proposals.
void say_if_cadmium_stays(const Tables& tables, const std::vector<Proposal>& proposals,
                          const std::vector<int>& plausible, Verdict& v)
{
  const bool unfiled = !limits_of(v.cautions).files;
  for (CautionShown& caution : v.cautions) {
    if (caution.key == "cadmium" && caution.probability >= caution_from &&
        lowest_hazard_after(tables, v.analysis, v.background, proposals, plausible, "cadmium") >= caution_from) {
      caution.text +=
          unfiled ? " No test that is safe to make can exclude it." : " No test at the bench can exclude it.";
    }
  }
}

// What may harm with this piece, or has no room on it, is not proposed.
std::vector<Proposal> safe_proposals(const Tables& tables, const Members& members, const Piece& piece,
                                     const std::vector<int>& plausible, const Verdict& v)
{
  std::vector<Proposal> proposals = proposals_for(tables, members, piece.context.answers, plausible);
  const StepLimits limits = limits_of(v.cautions);
  const double volume = volume_each_cm3(v.analysis, piece.weighing);
  std::erase_if(proposals, [&](const Proposal& proposal) {
    return !limits.allows(*proposal.test) || !has_room_for(*proposal.test, volume);
  });
  return proposals;
}

void add_cautions_of_steps(const Tables& tables, const std::string& reagent, Verdict& v)
{
  for (NextTest& step : v.next) {
    if (step.is_weighing) {
      continue;
    }
    const BenchTest& test = test_called(tables, step.key);
    step.step = step_of(test, reagent);
    step.cautions = cautions_of_step(test, reagent, warns_of(v.cautions, "cadmium"));
  }
}

// Wherever it was tried. A drop of which nothing is known tells nothing by being silent.
bool drop_was_silent(const Tables& tables, const Answers& answers)
{
  if (!unused_drop_words(tables, answers).empty()) {
    return false;
  }
  bool silent = false;
  for (const auto& [test, answer] : answers.given) {
    if (is_drop(test_called(tables, test))) {
      if (answer != "no-reaction") {
        return false;
      }
      silent = true;
    }
  }
  return silent;
}

// One for each family: it is not expected to tell the members of a family from each other.
void name_telling_tests(const Tables& tables, const std::vector<Proposal>& proposals, const std::vector<int>& plausible,
                        bool may_mark, Verdict& v)
{
  for (auto c = v.candidates.begin(); c != v.candidates.end(); ++c) {
    const bool named = std::any_of(v.candidates.begin(), c, [&](const Candidate& before) {
      return before.build == c->build && before.group == c->group;
    });
    if (!named) {
      c->told_by = telling_test_of(tables, v.analysis, v.background, proposals, plausible, c->member, may_mark);
    }
  }
}

std::vector<Remaining> what_remains(const Tables& tables, const Verdict& v, const std::vector<Proposal>& proposals,
                                    const std::vector<int>& plausible, bool may_mark)
{
  constexpr double counts_from = 0.003;  // a part that is silent may well be something rare
  constexpr std::size_t most = 10;
  std::vector<Remaining> remains;
  for (const Explanation& one : explanations_of(tables, v.analysis)) {
    const bool mix = (*v.analysis.members)[one.member]->hypothesis.kind == Kind::open_mix;  // nothing to look for
    if (one.probability >= counts_from && !mix && remains.size() < most) {
      remains.push_back(
          {one.words, one.probability,
           telling_test_of(tables, v.analysis, v.background, proposals, plausible, one.member, may_mark)});
    }
  }
  return remains;
}

}  // namespace

void add_mass_and_volume(const Piece& piece, Verdict& v)
{
  const Analysis& a = v.analysis;
  const Mass mass = mass_of(piece.weighing, a.density.value);
  v.mass_g = mass.g;
  v.mass_u_g = mass.u_g;
  v.volume_cm3 = v.mass_g / a.density.value;
  v.volume_u_cm3 = v.volume_cm3 * std::hypot(v.mass_u_g / v.mass_g, a.density.standard_uncertainty / a.density.value);
}

namespace
{

void describe_weighing(const Tables& tables, const Piece& piece, Verdict& v)
{
  v.budget = budget_of(piece.weighing);
  v.warnings = warnings_of(v.analysis, piece);
  if (std::string unused = unused_drop_words(tables, piece.context.answers); !unused.empty()) {
    v.warnings.push_back(std::move(unused));
  }
  if (piece.weighing.surroundings.liquid_density_g_cm3.value_or(1.0) < likely_burns_below_g_cm3) {
    v.warnings.emplace_back(burning_liquid_warning);
  }
  add_mass_and_volume(piece, v);
  if (v.analysis.density.possible && v.analysis.read_share > 0.0) {
    v.remedy = best_remedy(piece.weighing);
    if (piece.reference_density_g_cm3) {
      v.reference = reference_check_of(v.analysis, piece);
    }
  }
  if (piece.weighing.readings.soaked_g) {
    const Analysis& a = v.analysis;
    const double relative_u = a.density.standard_uncertainty / (a.density.value - a.curve.air_g_cm3);
    v.open_pores = open_pores_of(piece.weighing, relative_u * displacement_of(piece.weighing.readings).displaced_g);
  }
}

}  // namespace

Verdict verdict_of(const Prepared& prepared, const Piece& piece, const VerdictOptions& options)
{
  const Tables& tables = prepared.tables();
  Verdict v;
  v.analysis = weigh_up(piece.weighing, options.level);
  std::optional<Claim> claim;
  if (!piece.claim.empty()) {
    claim = claim_called(tables, piece.claim);
  }
  const auto& members = prepared.members(coat_volume_cm3(v.analysis, piece.weighing));
  v.background = background_of(prepared, members, piece.context);
  hold_against(v.analysis, members, v.background, true);
  if (options.mix != nullptr) {
    options.mix->apply(options.row, piece.context, options.lot, v.analysis);
  }
  describe_weighing(tables, piece, v);
  const std::vector<int> plausible = plausible_members(v.analysis);
  if (!plausible.empty()) {
    const auto shares = add_candidates(tables, piece, options, plausible, v);
    add_fractions(tables, options, plausible, shares, v);
  }
  if (claim) {
    v.claim = claim_verdict_of(tables, v.analysis, piece);
  }
  v.cautions = cautions_of(tables, v.analysis, piece);
  name_carriers(tables, v.analysis, v.cautions);
  v.pile = pile_of(v.analysis, options.piles);
  const auto proposals = safe_proposals(tables, members, piece, plausible, v);
  const bool may_mark = marks_allowed(tables, piece, options.marks);
  name_telling_tests(tables, proposals, plausible, may_mark, v);
  const Claim* claimed = claim ? &*claim : nullptr;
  v.asked = options.question.value_or(most_open_question(v.analysis, plausible, claimed));
  if (drop_was_silent(tables, piece.context.answers)) {
    if (!piece.context.answers.reagent_checked) {
      v.warnings.emplace_back(
          "A drop that has gone dead is silent on silver too: try it on a piece you know, and add --reagent-checked if "
          "it turned red there.");
    }
    v.remains = what_remains(tables, v, proposals, plausible, may_mark);
  }
  const StepLimits limits = limits_of(v.cautions);
  std::vector<NextTest> weighings;
  if (limits.wets) {
    weighings = next_weighings_of(v.analysis, plausible, v.asked, claimed, piece.weighing);
  } else {
    v.remedy = {};
  }
  v.next = next_steps_of(next_tests_of(v.analysis, v.background, proposals, plausible, v.asked, claimed, may_mark),
                         std::move(weighings));
  add_cautions_of_steps(tables, piece.context.answers.reagent, v);
  say_if_cadmium_stays(tables, proposals, plausible, v);
  if (const Answers& answers = piece.context.answers; !answers.given.empty()) {
    const AnswerBook book(tables, *v.analysis.members, answers.reagent);
    v.conflicts = conflicts_of(book, GivenAnswers(book, answers), answers, v.analysis, v.background, limits);
  }
  v.pile = unless_doubtful(v.pile, v.background.hollow, !v.conflicts.empty(), v.analysis.density.bounded);
  add_leanings(tables, piece, v);
  add_sentences(tables, piece, may_mark, v);
  v.analysis.members = nullptr;  // the prepared hypotheses may end before the verdict
  return v;
}

Verdict verdict_of(const Tables& tables, const Piece& piece, const VerdictOptions& options)
{
  const Weighing& w = piece.weighing;
  const PieceSize size{
      volume_each_cm3(weigh_up(w, options.level), w), w.area_cm2, w.face_cm2, piece.layer_mm, w.shape_factor,
      displacement_of(w.readings).dry_g / w.count};
  return verdict_of(Prepared(tables, size), piece, options);
}

}  // namespace bilancetta
