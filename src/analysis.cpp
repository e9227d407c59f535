#include "bilancetta/analysis.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "displacement_errors.hpp"
#include "predictive.hpp"
#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

constexpr double unexplained_below = 0.01;

// Whether a member may explain a piece: solid, plated, inlaid (hollow only where that is known), with some prior.
bool may_explain(const Member& member, double prior, const Background& background)
{
  return prior > 0.0 &&
         (member.hypothesis.build != Build::other || (background.hollow && member.hypothesis.kind == Kind::hollow));
}

// Probability of a reading that speaks for a lower density than this one, for each node of the curve's level.
LevelWeights lower_reading(const Analysis& analysis)
{
  LevelWeights all = analysis.weights;
  const double difference = analysis.curve.liquid_g_cm3 - analysis.curve.air_g_cm3;
  // Of the curve in displaced share: what stands for higher densities than a node, those that no metal has included.
  const double least_share = difference / (density_grid::highest_g_cm3 - analysis.curve.air_g_cm3);
  double above = 0.0;
  double total = 0.0;
  for (std::size_t j = 0; j < analysis.curve.likelihood.size(); ++j) {
    const double mass = analysis.curve.likelihood[j] * analysis.curve.share_step;
    total += mass;
    above += analysis.curve.share_at(static_cast<double>(j)) < least_share ? mass : 0.0;
  }
  const double step = density_grid::spacing * (1 << all.level);
  const double ratio = std::exp(-step);
  std::vector<double> cumulated(all.nodes.value.size());
  double density = density_grid::density_at((all.nodes.last() + 1) << all.level);
  for (std::size_t i = cumulated.size(); i-- > 0;) {
    density *= ratio;
    const double width = (all.level == 0 ? 1.0 : density * step) /
                         ((density - analysis.curve.air_g_cm3) * (density - analysis.curve.air_g_cm3));
    const double mass = all.nodes.value[i] * width * difference;
    cumulated[i] = above + 0.5 * mass;
    above += mass;
  }
  density_grid::CellWidths widths(all.nodes.first);
  for (std::size_t i = 0; i < cumulated.size(); ++i) {
    // At level 0 a pyramid holds the density at its nodes, above that the mass about them.
    const double per_node = all.level == 0 ? widths.next() : 1.0;
    all.nodes.value[i] = static_cast<float>(per_node * std::min(cumulated[i] / total, 1.0));
  }
  return all;
}

// A member with one peak explains the piece at least as well as the smaller of the chances of a lower and of a higher
// reading. Asked of the likeliest members first, this settles nearly every piece.
// @param lower  of `lower_reading`
BILANCETTA_VECTORISED bool surely_explained(const Analysis& analysis, const Background& background,
                                            const LevelWeights& lower) noexcept
{
  constexpr double margin = 1.5;
  constexpr double likely = 0.2;  // of the likeliest
  const std::vector<double>& posterior = analysis.posterior;
  const double least = likely * largest_of(posterior.data(), posterior.size());
  bool found = false;
  for_each_above(posterior.data(), posterior.size(), least, [&](std::size_t i) {
    if (found || !may_explain(*(*analysis.members)[i], background.prior[i], background)) {
      return;
    }
    const double chance = analysis.members->under(lower, i) + analysis.members->mass_below(lower, i);
    found = std::min(chance, 1.0 - chance) >= margin * unexplained_below;
  });
  return found;
}

// Those that might explain the piece, by falling evidence relative to their best.
std::vector<int> by_relative_evidence(const Analysis& analysis, const Background& background, bool only_possible)
{
  std::vector<std::pair<double, int>> ratio;
  for (std::size_t i = 0; i < analysis.evidence.size(); ++i) {
    const Member& member = *(*analysis.members)[i];
    const auto index = static_cast<int>(i);
    if (may_explain(member, background.prior[i], background) &&
        (!only_possible || highest_possible_tail(analysis, i) >= unexplained_below)) {
      ratio.emplace_back(-analysis.evidence[i] / std::max(member.highest, 1e-12F), index);
    }
  }
  const auto searched = static_cast<std::ptrdiff_t>(std::min<std::size_t>(ratio.size(), 40));
  std::partial_sort(ratio.begin(), ratio.begin() + searched, ratio.end());
  ratio.resize(static_cast<std::size_t>(searched));
  std::vector<int> order;
  order.reserve(ratio.size());
  for (const auto& [value, index] : ratio) {
    order.push_back(index);
  }
  return order;
}

// A thickness read at the edge tells between layered pieces, not whether there is a layer, which is for the test of the
// edge to say: together they stay as likely as they were.
void tell_by_layer(const Members& members, Background& background)
{
  const auto layered = [&](std::size_t i) {
    const Kind kind = members[i]->hypothesis.kind;
    return kind == Kind::plated || kind == Kind::inlay;
  };
  double before = 0.0;
  double after = 0.0;
  for (std::size_t i = 0; i < members.size(); ++i) {
    const double mass = layered(i) ? background.prior[i] * background.test_likelihood[i] : 0.0;
    before += mass;
    after += mass * members[i]->hypothesis.layer_chance;
  }
  for (std::size_t i = 0; i < members.size() && after > 0.0; ++i) {
    if (layered(i)) {
      background.test_likelihood[i] *= members[i]->hypothesis.layer_chance * before / after;
    }
  }
}

}  // namespace

double highest_possible_tail(const Analysis& analysis, std::size_t i)
{
  const DensityCurve& curve = analysis.curve;
  const GridFunction& predicted = (*analysis.members)[i]->predicted;
  const double difference = curve.liquid_g_cm3 - curve.air_g_cm3;
  const double own = difference / (density_grid::density_at(predicted.first - 1) - curve.air_g_cm3) -
                     difference / (density_grid::density_at(predicted.last() + 1) - curve.air_g_cm3);
  const double points = std::accumulate(curve.likelihood.begin(), curve.likelihood.end(), 0.0);
  return analysis.evidence[i] * (own / curve.share_step + static_cast<double>(curve.likelihood.size())) / points;
}

Background background_of(const Prepared& prepared, const Members& members, const Context& context)
{
  Background background{prior_of(prepared.tables(), members, context), {}, context.is_hollow_ware()};
  background.test_likelihood.reserve(members.size());
  const BenchOdds odds(prepared.tables(), context.answers);
  for (const Member* member : members) {
    background.test_likelihood.push_back(odds.likelihood(member->hypothesis));
  }
  tell_by_layer(members, background);
  return background;
}

Analysis weigh_up(const Weighing& weighing, double level)
{
  Analysis analysis;
  analysis.curve = density_curve_of(weighing);
  analysis.density = summary_of(analysis.curve, weighing, level);
  analysis.weights = evidence_weights_of(analysis.curve);
  const Displacement d = displacement_of(weighing.readings);
  analysis.read_share = d.displaced_g / d.dry_g;
  return analysis;
}

double volume_each_cm3(const Analysis& analysis, const Weighing& weighing)
{
  return displacement_of(weighing.readings).dry_g / analysis.density.value / weighing.count;
}

double coat_volume_cm3(const Analysis& analysis, const Weighing& weighing)
{
  return volume_each_cm3(analysis, weighing) * std::pow(usual_shape_factor / weighing.shape_factor, 3.0);
}

double expected_reading_g(const Analysis& analysis, const Weighing& weighing, double density_g_cm3)
{
  const double dry = displacement_of(weighing.readings).dry_g;
  double displaced =
      dry * (analysis.curve.liquid_g_cm3 - analysis.curve.air_g_cm3) / (density_g_cm3 - analysis.curve.air_g_cm3);
  displaced -= displacement_errors_of(weighing, {dry, displaced}, liquid_density_of(weighing.surroundings),
                                      analysis.curve.air_g_cm3)
                   .mean_g();
  switch (way_of(weighing.readings)) {
    case Way::rise:
      return displaced + (weighing.readings.cup_before_g ? *weighing.readings.cup_before_g : 0.0);
    case Way::submerged:
      return dry - displaced + weighing.readings.holder_g.value_or(0.0);
    case Way::bottle:
      return full_bottle_g(weighing.readings) + dry - displaced;
  }
  return 0.0;
}

void hold_against(Analysis& analysis, const Members& members, const Background& background, bool full_tail)
{
  analysis.members = &members;
  analysis.evidence = members.evidence(analysis.weights);
  analysis.posterior = posterior_of(background.prior, analysis.evidence, background.test_likelihood);
  analysis.builds = members.by_build(analysis.posterior);
  analysis.misfit_tail = 0.0;
  analysis.explained = !full_tail && surely_explained(analysis, background, lower_reading(analysis));
  if (analysis.explained) {
    return;
  }
  for (const int i : by_relative_evidence(analysis, background, !full_tail)) {
    const Predictive predictive(analysis.curve, analysis.read_share, members[i]->predicted);
    analysis.misfit_tail = std::max(analysis.misfit_tail, predictive.tail_at(analysis.read_share));
    if (!full_tail && analysis.misfit_tail >= unexplained_below) {
      break;
    }
  }
  analysis.explained = analysis.misfit_tail >= unexplained_below;
  if (no_metal_weighs_so(analysis)) {
    analysis.evidence.assign(members.size(), 0.0);
    analysis.posterior.assign(members.size(), 0.0);
    analysis.builds = {};
  }
}

}  // namespace bilancetta
