#include "bilancetta/analysis.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "draws.hpp"
#include "predictive.hpp"

namespace bilancetta
{

namespace
{

constexpr double unexplained_below = 0.01;

// Named hypotheses that may explain a piece: solid, plated, inlaid (hollow only where that is known), with some prior.
std::vector<int> by_relative_evidence(const Analysis& analysis, const Background& background)
{
  std::vector<std::pair<double, int>> ratio;
  for (std::size_t i = 0; i < analysis.evidence.size(); ++i) {
    const Member& member = *(*analysis.members)[i];
    const bool named =
        member.hypothesis.build != Build::other || (background.hollow && member.hypothesis.kind == Kind::hollow);
    if (named && background.prior[i] > 0.0) {
      ratio.emplace_back(-analysis.evidence[i] / std::max(member.highest, 1e-12F), static_cast<int>(i));
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

}  // namespace

Background background_of(const Prepared& prepared, const std::vector<const Member*>& members, const Context& context)
{
  Background background{
      prior_of(prepared.tables(), members, context), {}, context.form == "hollow" || context.form == "filled"};
  background.test_likelihood.reserve(members.size());
  const BenchOdds odds(prepared.tables(), context.answers);
  for (const Member* member : members) {
    background.test_likelihood.push_back(odds.likelihood(member->hypothesis));
  }
  return background;
}

Analysis weigh_up(const Weighing& weighing, double level)
{
  Analysis analysis;
  analysis.curve = density_curve_of(weighing);
  analysis.density = summary_of(analysis.curve, weighing, level);
  analysis.weights = weights_on_grid(analysis.curve);
  const Displacement d = displacement_of(weighing.readings);
  analysis.read_share = d.displaced_g / d.dry_g;
  return analysis;
}

double volume_each_cm3(const Analysis& analysis, const Weighing& weighing)
{
  return displacement_of(weighing.readings).dry_g / analysis.density.value / weighing.count;
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

void hold_against(Analysis& analysis, const std::vector<const Member*>& members, const Background& background,
                  bool full_tail)
{
  analysis.members = &members;
  analysis.evidence = evidence_of(members, analysis.weights);
  analysis.posterior = posterior_of(background.prior, analysis.evidence, background.test_likelihood);
  analysis.builds.fill(0.0);
  for (std::size_t i = 0; i < members.size(); ++i) {
    analysis.builds[static_cast<int>(members[i]->hypothesis.build)] += analysis.posterior[i];
  }
  analysis.misfit_tail = 0.0;
  for (const int i : by_relative_evidence(analysis, background)) {
    const Predictive predictive(analysis.curve, analysis.read_share, members[i]->predicted);
    analysis.misfit_tail = std::max(analysis.misfit_tail, predictive.tail_at(analysis.read_share));
    if (!full_tail && analysis.misfit_tail >= unexplained_below) {
      break;
    }
  }
  analysis.explained = analysis.misfit_tail >= unexplained_below;
}

std::vector<int> plausible_members(const Analysis& analysis, double coverage)
{
  std::vector<int> order(analysis.posterior.size());
  std::iota(order.begin(), order.end(), 0);
  std::sort(order.begin(), order.end(), [&](int a, int b) { return analysis.posterior[a] > analysis.posterior[b]; });
  double covered = 0.0;
  std::size_t used = 0;
  while (used < order.size() && covered < coverage && analysis.posterior[order[used]] > 0.0) {
    covered += analysis.posterior[order[used++]];
  }
  order.resize(used);
  return order;
}

const GridFunction& DrawWeights::smoothed_for(double scatter)
{
  for (const auto& [known, function] : known_) {
    if (known == scatter) {
      return function;
    }
  }
  return known_.emplace_back(scatter, smoothed(*weights_, scatter)).second;
}

std::vector<float> DrawWeights::of(const Member& member)
{
  const GridFunction& function = smoothed_for(member.hypothesis.scatter);
  const std::vector<float>& own = draw_weights_of(member.hypothesis);
  const auto first = static_cast<float>(function.first);
  const auto end = static_cast<float>(function.value.size()) - 1.0F;
  std::vector<float> weights(own.size(), 0.0F);
  double total = 0.0;
  for (std::size_t i = 0; i < own.size(); ++i) {
    const float inside = member.place[i] - first;
    if (inside >= 0.0F && inside < end) {
      const int node = static_cast<int>(inside);
      const float t = inside - static_cast<float>(node);
      weights[i] = own[i] * ((1.0F - t) * function.value[node] + t * function.value[node + 1]);
      total += weights[i];
    }
  }
  if (total <= 0.0) {
    return {};
  }
  const auto factor = static_cast<float>(1.0 / total);
  for (float& weight : weights) {
    weight *= factor;
  }
  return weights;
}

ShareHistogram silver_fraction_of(const Analysis& analysis, const std::vector<int>& plausible,
                                  std::vector<ShareMoments>* each)
{
  const ShareTable::Curve curve = ShareTable::coarser(analysis.weights);
  ShareHistogram all(ShareTable::bins);
  for (const int i : plausible) {
    const Member& member = *(*analysis.members)[i];
    ShareMoments moments;
    if (member.silver.empty()) {
      all.add(0.0, analysis.posterior[i]);
    } else {
      moments = member.silver.add_to(all, curve, analysis.posterior[i]);
    }
    if (each != nullptr) {
      each->push_back(moments);
    }
  }
  return all;
}

}  // namespace bilancetta
