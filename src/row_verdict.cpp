#include "row_verdict.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "conflicts.hpp"
#include "doubt.hpp"
#include "fractions.hpp"
#include "lanes.hpp"

namespace bilancetta
{

namespace
{

std::vector<int> cautions_from(const Tables& tables, const std::vector<double>& probability)
{
  std::vector<int> shown;
  for (const Urgency urgency : all_urgencies) {
    for (std::size_t k = 0; k < probability.size(); ++k) {
      if (probability[k] >= caution_from && tables.cautions[k].urgency == urgency) {
        shown.push_back(static_cast<int>(k));
      }
    }
  }
  return shown;
}

// Probability of each answer by class of the question, class by class: answers so far are in it.
std::vector<float> answers_by_class(const RowVerdict& row, const BatchContext& context, bool checked, Question question,
                                    const Claim* claim)
{
  const auto columns = static_cast<std::size_t>(context.book->columns());
  std::vector<float> mass(answer_classes * columns, 0.0F);
  for (const int i : row.plausible) {
    const auto m = static_cast<std::size_t>(i);
    const int of = answer_class(*row.analysis.members, m, question, claim);
    float* of_class = &mass[columns * static_cast<std::size_t>(of)];
    const auto posterior = static_cast<float>(row.analysis.posterior[m]);
    if (context.facts.empty()) {
      context.book->add_odds(m, checked, posterior, of_class);
    } else {
      context.book->add_odds(m, context.weighed_facts, posterior, of_class);
      for (const AnswerBook::Coupled& coupled : context.coupled) {
        context.book->add_agreement(m, context.facts[m], posterior, coupled, of_class);
      }
    }
  }
  return mass;
}

// Of each column, its mass times the bits that are open among the classes: of a column with mass m_k in class k,
// m log2 m - sum of m_k log2 m_k, m being their sum. A mass that rounding left below nothing stays without weight.
BILANCETTA_VECTORISED BILANCETTA_FLAT void find_bits_left(const std::vector<float>& mass,
                                                          std::vector<float>& left) noexcept
{
  constexpr double per_ln2 = 1.0 / M_LN2;
  const std::size_t columns = left.size();
  for (std::size_t column = 0; column < columns; column += Lanes::count) {
    Lanes total(1e-30);
    Lanes bits(0.0);
    for (std::size_t k = 0; k < answer_classes; ++k) {
      Lanes here;
      load(&mass[k * columns + column], here.value);
      total += here;
      bits = bits - here * log(here);
    }
    bits += total * log(total);
    store((bits * per_ln2).value, &left[column]);
  }
}

// The test of best value for its effort, as next_tests_of finds it.
std::string best_test(const Tables& tables, const RowVerdict& row, const BatchContext& context, const Piece& piece,
                      const VerdictOptions& options)
{
  std::optional<Claim> claim;
  if (!piece.claim.empty()) {
    claim = claim_called(tables, piece.claim);
  }
  const Claim* claimed = claim ? &*claim : nullptr;
  const Question question = options.question.value_or(most_open_question(row.analysis, row.plausible, claimed));
  const double doubt = doubt_of(row.analysis, row.plausible, question, claimed);
  const bool marks = options.marks == Marks::always || (options.marks == Marks::by_place && context.marks_by_place);
  const auto mass = answers_by_class(row, context, piece.context.answers.reagent_checked, question, claimed);
  const auto columns = static_cast<std::ptrdiff_t>(context.book->columns());
  std::vector<float> left(static_cast<std::size_t>(columns));
  find_bits_left(mass, left);
  const double volume = volume_each_cm3(row.analysis, piece.weighing);
  std::string best;
  double best_value = 0.0;
  for (std::size_t t = 0; t < context.answered.size(); ++t) {
    const AnswerBook::Test& test = context.book->tests()[t];
    if (context.answered[t] || (test.row->marks && !marks) || !row.limits.allows(*test.row) ||
        !has_room_for(*test.row, volume)) {
      continue;
    }
    const auto first = left.begin() + test.first();
    const double still_open = std::accumulate(first, first + test.count(), 0.0);
    double total = 0.0;
    for (int k = 0; k < answer_classes; ++k) {
      const auto of_class = mass.begin() + k * columns + test.first();
      total = std::accumulate(of_class, of_class + test.count(), total);
    }
    const double bits = std::max(doubt - still_open / std::max(total, 1e-300), 0.0);
    if (bits >= least_bits_of(*test.row) && value_for_effort(bits, test.row->effort) > best_value) {
      best_value = value_for_effort(bits, test.row->effort);
      best = test.row->key;
    }
  }
  return best;
}

std::string next_of(const Tables& tables, const RowVerdict& row, const BatchContext& context, const Piece& piece,
                    const VerdictOptions& options)
{
  if (context.background.hollow) {
    return "";  // marks and seams tell of such ware, and no test that has a key
  }
  if (row.limits.wets && must_be_pooled(row.analysis, piece)) {
    return "pool";
  }
  return best_test(tables, row, context, piece, options);
}

// Probability of the members that are not plausible.
double left_out_of(const RowVerdict& row)
{
  return std::accumulate(row.plausible.begin(), row.plausible.end(), 1.0, [&](double left, int i) {
    return left - row.analysis.posterior[static_cast<std::size_t>(i)];
  });
}

// Whether so much more might lift one of these over a threshold.
bool might_reach(const auto& probabilities, double more, double threshold)
{
  return std::any_of(probabilities.begin(), probabilities.end(),
                     [&](double p) { return p < threshold && p + more >= threshold; });
}

// By the plausible members, or by all where those left out might decide otherwise.
std::vector<double> hazards_of(const Tables& tables, const RowVerdict& row, double left_out,
                               const PileThresholds& piles)
{
  std::vector<double> hazards = hazard_probabilities(tables, row.analysis, row.plausible);
  const auto near = [&](double threshold) { return might_reach(hazards, left_out, threshold); };
  return near(caution_from) || near(piles.cadmium) || std::any_of(hazard_from.begin(), hazard_from.end(), near)
             ? hazard_probabilities(tables, row.analysis)
             : hazards;
}

Pile pile_by_material(const RowVerdict& row, double left_out, const PileThresholds& thresholds)
{
  const Analysis& a = row.analysis;
  std::array<double, material_piles> piles{};
  for (const int i : row.plausible) {
    const Pile pile = a.members->traits(i).pile;
    if (pile != Pile::undecided) {
      piles[static_cast<std::size_t>(pile)] += a.posterior[i];
    }
  }
  return might_reach(piles, left_out, thresholds.sure) ? pile_of(a, thresholds)
                                                       : pile_of(piles, row.cadmium, a.explained, thresholds);
}

double mean_silver(const RowVerdict& row, const std::vector<ShareMoments>& each)
{
  double total = 0.0;
  double mean = 0.0;
  for (std::size_t k = 0; k < each.size(); ++k) {
    const double p = row.analysis.posterior[static_cast<std::size_t>(row.plausible[k])];
    total += p;
    mean += p * each[k].mean;
  }
  return total > 0.0 ? mean / total : 0.0;
}

}  // namespace

std::string message_of(const Tables& tables, const RowVerdict& verdict, const Piece& piece)
{
  std::string text;
  const auto say = [&](const std::string& sentence) { text += (text.empty() ? "" : " ") + sentence; };
  if (verdict.reference) {
    say(verdict.reference->words + ".");
  }
  const Analysis& a = verdict.analysis;
  if (a.density.possible && no_metal_weighs_so(a)) {
    say("No metal is so heavy: check the tare and that both readings are in their places.");
  } else if (a.density.possible && (verdict.plausible.empty() || !a.explained)) {
    say("Nothing in the tables explains this density.");
  }
  for (const std::string& conflict : verdict.conflicts) {
    say(conflict + ".");
  }
  if (piece.context.is_hollow_ware()) {
    say("Hollow or filled ware: its weight says little of its metal, and its silver cannot be known.");
  }
  for (const std::string& warning : warnings_of(a, piece)) {
    say(warning);
  }
  if (const std::string unused = unused_drop_words(tables, piece.context.answers); !unused.empty()) {
    say(unused);
  }
  for (const std::string& remark : verdict.of_sitting) {
    say(remark);
  }
  return text;
}

double slope_of_silver(const RowVerdict& row, const Background& background)
{
  const double off = 0.25 * row.analysis.density.standard_uncertainty;
  if (row.plausible.empty() || !row.analysis.density.possible || !(off > 0.0)) {
    return 0.0;
  }
  const auto moved = [&](double by) {
    RowVerdict other;
    other.plausible = row.plausible;
    Analysis& a = other.analysis;
    a.curve = row.analysis.curve;
    a.members = row.analysis.members;
    const double share = a.curve.share_at(0.5 * static_cast<double>(a.curve.likelihood.size()));
    const double density = std::max(row.analysis.density.value, 0.5);
    a.curve.first_share -= std::abs(share) * by / density;
    a.weights = evidence_weights_of(a.curve);
    a.posterior.resize(a.members->size());
    double total = 0.0;
    for (const int i : other.plausible) {
      const auto m = static_cast<std::size_t>(i);
      a.posterior[m] = background.prior[m] * background.test_likelihood[m] * a.members->under(a.weights, m);
      total += a.posterior[m];
    }
    for (const int i : other.plausible) {
      a.posterior[static_cast<std::size_t>(i)] /= std::max(total, 1e-300);
    }
    return mean_silver(other, silver_moments_of(a, other.plausible));
  };
  return (moved(off) - moved(-off)) / (2.0 * off);
}

RowVerdict row_verdict_of(const BatchShared& shared, const RowContext& context, const Piece& piece, long line)
{
  const Background& background = context.background();
  const Tables& tables = shared.prepared.tables();
  const VerdictOptions& options = shared.options.verdict;
  RowVerdict row;
  Analysis& a = row.analysis;
  a = weigh_up(piece.weighing, options.level);
  if (piece.reference_density_g_cm3 && a.density.possible && a.read_share > 0.0) {
    row.reference = reference_check_of(a, piece);
  }
  hold_against(a, shared.prepared.members(coat_volume_cm3(a, piece.weighing)), background, false);
  if (shared.mix) {
    shared.mix->apply(line, piece.context, piece.lot, a);
  }
  // The last 0.2 % would cost much time and move no printed digit; the rows of a lot multiply what little is left.
  row.plausible = fewest_covering(a.posterior, piece.lot.empty() ? 0.998 : 0.99999);
  if (row.plausible.empty()) {
    return row;
  }
  row.mass = mass_of(piece.weighing, a.density.value);
  row.silver = silver_fraction_of(a, row.plausible, shared.content ? &row.silver_each : nullptr).band(options.level);
  row.silver_g = grams_of(row.mass, row.silver, options.level);
  if (shared.content) {
    row.silver_mean = mean_silver(row, row.silver_each);
  }
  for (const int i : row.plausible) {
    const MemberTraits& traits = a.members->traits(i);
    for (std::size_t k = 0; traits.holds_precious && k < row.other_precious_g.size(); ++k) {
      row.other_precious_g[k] += a.posterior[i] * (*a.members)[i]->other_precious[k] * row.mass.g;
    }
  }
  const double left_out = left_out_of(row);
  const std::vector<double> hazards = hazards_of(tables, row, left_out, options.piles);
  const auto probability = [&](std::string_view key) {
    const int which = find_caution(tables, key);
    return which >= 0 ? hazards[which] : 0.0;
  };
  row.cadmium = probability("cadmium");
  row.limits = step_limits(probability);
  row.cautions = cautions_from(tables, hazards);
  if (const BatchContext& common = context.common(); common.given) {
    const Answers& answers = piece.context.answers;
    if (!expected_together(*common.book, *common.given, answers, a, background)) {
      row.conflicts = conflicts_of(*common.book, *common.given, answers, a, background, row.limits);
    }
  }
  row.pile = unless_doubtful(pile_by_material(row, left_out, options.piles), background.hollow, !row.conflicts.empty(),
                             a.density.bounded);
  row.next = next_of(tables, row, context.common(), piece, options);
  return row;
}

}  // namespace bilancetta
