#include "bilancetta/plan.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "predictive.hpp"

namespace bilancetta
{

namespace
{

// One weighing of a density, and what it would read for each of two hypotheses.
Predictive predictive_for(const PlannedWeighing& plan, const Member& member)
{
  const double zero[max_variables] = {};
  const Weighing weighing = ideal_weighing(plan, member.hypothesis.evaluate(zero).density);
  const Displacement d = displacement_of(weighing.readings);
  return {density_curve_of(weighing), d.displaced_g / d.dry_g, member.predicted};
}

template <typename Enough>
int smallest(const std::vector<int>& tried, Enough enough)
{
  const auto found = std::find_if(tried.begin(), tried.end(), enough);
  return found == tried.end() ? 0 : *found;
}

}  // namespace

std::string_view why_unweighable(const PlannedWeighing& plan, double density_g_cm3)
{
  constexpr double most_g = 99999.0;
  constexpr double bottle_cm3 = 25.0;
  const double dry = plan.each_g * plan.count;
  return dry > most_g                                                  ? "weigh more than 100 kg"
         : dry < 0.5 * plan.scale.readability_g                        ? "weigh less than half a step of this scale"
         : plan.way == Way::bottle && dry > bottle_cm3 * density_g_cm3 ? "fill more than a bottle of 25 mL"
                                                                       : "";
}

Weighing ideal_weighing(const PlannedWeighing& plan, double density_g_cm3)
{
  Weighing w;
  w.scale = plan.scale;
  w.surroundings = plan.surroundings;
  w.count = plan.count;
  w.shape_factor = plan.shape_factor;
  w.liquid_scale = plan.liquid_scale;
  w.span_u = plan.span_u;
  w.as_typed = true;  // nothing was typed that could be mixed up
  const double air = air_density_g_cm3(plan.surroundings.air);
  const double dry = plan.each_g * plan.count;
  const double displaced = dry * (liquid_density_of(plan.surroundings).g_cm3 - air) / (density_g_cm3 - air);
  // Not rounded: a planned weighing has neither good nor bad luck with the display.
  // Repeats lie about their middle as a normal sample does, with the scale's noise and rounding.
  const auto repeated = [&](double value, const Scale& scale) {
    const double scatter = std::hypot(scale.repeatability_g, scale.readability_g / std::sqrt(12.0));
    std::vector<double> values;
    for (int i = 0; i < plan.repeats; ++i) {
      const double rank = (2.0 * i + 1.0) / plan.repeats - 1.0;  // -1 to 1
      // A piece below the scale's steps cannot weigh less than nothing.
      values.push_back(std::max(
          value + scatter * std::sqrt(3.0) * rank * std::sqrt(plan.repeats / (plan.repeats + 1.0)), 0.1 * value));
    }
    return values;
  };
  w.readings.dry_g = repeated(dry, w.scale);
  switch (plan.way) {
    case Way::rise:
      w.readings.rise_g = repeated(displaced, liquid_scale_of(w));
      break;
    case Way::submerged:
      w.readings.submerged_g = repeated(dry - displaced, liquid_scale_of(w));
      break;
    case Way::bottle: {
      // The smallest common bottle that holds the pieces, 10 or 25 mL, of glass as heavy as six tenths of its water
      // (judgement).
      const double bottle_g = displaced < 5.0 ? 16.0 : 40.0;
      w.readings.bottle_full_g = bottle_g;
      w.readings.bottle_with_piece_g = bottle_g + dry - displaced;
      break;
    }
  }
  return w;
}

double expected_half_width(const PlannedWeighing& plan, double density_g_cm3, double level)
{
  const Weighing w = ideal_weighing(plan, density_g_cm3);
  const DensitySummary s = summary_of(density_curve_of(w), w, level);
  return 0.5 * (s.high - s.low);
}

int pieces_for_one_percent(PlannedWeighing plan, double density_g_cm3, double level)
{
  for (const int count : {1, 2, 3, 5, 8, 10, 15, 20, 30, 50, 80, 100, 200, 500, 1000}) {
    plan.count = count;
    if (can_be_weighed(plan, density_g_cm3) &&
        expected_half_width(plan, density_g_cm3, level) <= 0.01 * density_g_cm3) {
      return count;
    }
  }
  return 0;
}

std::pair<double, double> chances_apart(const Tables& tables, const PlannedWeighing& plan, int one, int other)
{
  const Member members[] = {member_of(tables, solid_hypothesis(tables, one), Member::Serves::verdicts),
                            member_of(tables, solid_hypothesis(tables, other), Member::Serves::verdicts)};
  const Predictive predictive[] = {predictive_for(plan, members[0]), predictive_for(plan, members[1])};
  const auto right = [&](int truth) {
    return predictive[truth].probability_that(
        [&](double share) { return predictive[truth].density_at(share) > predictive[1 - truth].density_at(share); });
  };
  return {right(0), right(1)};
}

double chance_apart(const Tables& tables, const PlannedWeighing& plan, int one, int other)
{
  const auto [first, second] = chances_apart(tables, plan, one, other);
  return 0.5 * (first + second);
}

TwoCurves two_curves(const Tables& tables, const PlannedWeighing& plan, int one, int other, int columns)
{
  const Member members[] = {member_of(tables, solid_hypothesis(tables, one), Member::Serves::verdicts),
                            member_of(tables, solid_hypothesis(tables, other), Member::Serves::verdicts)};
  const Predictive predictive[] = {predictive_for(plan, members[0]), predictive_for(plan, members[1])};
  const double air = air_density_g_cm3(plan.surroundings.air);
  const double difference = liquid_density_of(plan.surroundings).g_cm3 - air;
  TwoCurves curves;
  double low = 1e9;
  double high = 0.0;
  for (const Member& member : members) {
    const double zero[max_variables] = {};
    const double density = member.hypothesis.evaluate(zero).density;
    const double reach = 1.8 * expected_half_width(plan, density) + 4.0 * member.hypothesis.scatter * density;
    low = std::min(low, density - reach);
    high = std::max(high, density + reach);
  }
  curves.low_g_cm3 = std::max(low, density_grid::lowest_g_cm3);
  curves.high_g_cm3 = std::min(high, density_grid::highest_g_cm3);
  for (int i = 0; i < columns; ++i) {
    const double density = curves.low_g_cm3 + (curves.high_g_cm3 - curves.low_g_cm3) * (i + 0.5) / columns;
    const double share = difference / (density - air);
    curves.one.push_back(predictive[0].density_at(share) * share * share);
    curves.other.push_back(predictive[1].density_at(share) * share * share);
  }
  for (auto* curve : {&curves.one, &curves.other}) {
    const double highest = std::max(*std::max_element(curve->begin(), curve->end()), 1e-300);
    for (double& value : *curve) {
      value /= highest;
    }
  }
  return curves;
}

int pieces_needed(const Tables& tables, PlannedWeighing plan, int one, int other, double confidence)
{
  const double lighter = std::min(typical_density_g_cm3(tables.materials[one], tables.constituents),
                                  typical_density_g_cm3(tables.materials[other], tables.constituents));
  return smallest({1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 70, 100, 150, 200, 300, 500, 1000},
                  [&](int count) {
                    plan.count = count;
                    return can_be_weighed(plan, lighter) && chance_apart(tables, plan, one, other) >= confidence;
                  });
}

int repeats_needed(const Tables& tables, PlannedWeighing plan, int one, int other, double confidence)
{
  return smallest({1, 2, 3, 5, 10}, [&](int repeats) {
    plan.repeats = repeats;
    return chance_apart(tables, plan, one, other) >= confidence;
  });
}

namespace
{

// What each way of making the claim true would read.
ClaimedReadings claimed_readings(const Tables& tables, const PlannedWeighing& plan, const Claim& claim)
{
  ClaimedReadings claimed;
  for (const int material : claim.materials) {
    claimed.add(predictive_for(plan, member_of(tables, solid_hypothesis(tables, material), Member::Serves::verdicts)));
  }
  const PieceSize size{plan.each_g / 9.0, {}};
  for (int row = 0; row < static_cast<int>(tables.builds.size()); ++row) {
    const BuildRow& build = tables.builds[row];
    for (const int coat : claim.plated_with) {
      if (build.build != Build::plated ||
          std::find(build.outer.begin(), build.outer.end(), coat) == build.outer.end()) {
        continue;
      }
      for (const int core : build.inner) {
        const Hypothesis plated = layered_hypothesis(tables, row, coat, core, size);
        claimed.add(predictive_for(plan, member_of(tables, plated, Member::Serves::verdicts)));
      }
    }
  }
  return claimed;
}

double refused(const Tables& tables, const PlannedWeighing& plan, const ClaimedReadings& claimed, int material)
{
  const Predictive read =
      predictive_for(plan, member_of(tables, solid_hypothesis(tables, material), Member::Serves::verdicts));
  return read.probability_that([&](double share) { return claimed.refuses(share); });
}

}  // namespace

std::vector<ClaimPower> claim_power(const Tables& tables, const PlannedWeighing& plan, const Claim& claim, Form form)
{
  const auto typical = [&](int material) {
    return typical_density_g_cm3(tables.materials[material], tables.constituents);
  };
  const auto& kinds = claim.materials;
  const auto lightest =
      std::min_element(kinds.begin(), kinds.end(), [&](int a, int b) { return typical(a) < typical(b); });
  const ClaimedReadings claimed = claimed_readings(tables, plan, claim);
  std::vector<ClaimPower> power;
  for (const int opposite : claim.opposites) {
    const bool lighter = lightest != kinds.end() && typical(opposite) < typical(*lightest);
    const bool innocent = is_innocent(form, lighter);
    power.push_back(
        {tables.materials[opposite].name, innocent ? 0.0 : refused(tables, plan, claimed, opposite), innocent});
  }
  return power;
}

std::vector<ClaimPower> claim_look_alikes(const Tables& tables, const PlannedWeighing& plan, const Claim& claim)
{
  constexpr std::size_t most = 10;
  const ClaimedReadings claimed = claimed_readings(tables, plan, claim);
  const double air = air_density_g_cm3(plan.surroundings.air);
  const double difference = liquid_density_of(plan.surroundings).g_cm3 - air;
  struct Alike {
    Commonness commonness;
    std::string family;
    ClaimPower power;
    [[nodiscard]] bool before(const Alike& other) const
    {
      return commonness != other.commonness ? commonness > other.commonness : power.refused < other.power.refused;
    }
  };
  std::vector<Alike> all;
  for (int m = 0; m < static_cast<int>(tables.materials.size()); ++m) {
    const Material& material = tables.materials[m];
    const double typical = typical_density_g_cm3(material, tables.constituents);
    // What is refused even where one case in six lies towards the claim is refused in more than four of five.
    const double u = 0.5 * expected_half_width(plan, typical);
    if (std::find(claim.materials.begin(), claim.materials.end(), m) != claim.materials.end() ||
        (claimed.refuses(difference / (typical - u - air)) && claimed.refuses(difference / (typical + u - air)))) {
      continue;
    }
    const Alike alike{commonest(material.found), material.group, {material.name, refused(tables, plan, claimed, m)}};
    if (alike.power.refused < power_needed) {
      all.push_back(alike);
    }
  }
  std::stable_sort(all.begin(), all.end(), [](const Alike& a, const Alike& b) { return a.before(b); });
  const std::string own = claim.materials.empty() ? "" : tables.materials[claim.materials.front()].group;
  std::map<std::string, int> of_family;
  std::vector<ClaimPower> shown;
  for (const Alike& one : all) {
    if (shown.size() < most && ++of_family[one.family] <= (one.family == own ? 3 : 1)) {
      shown.push_back(one.power);
    }
  }
  return shown;
}

}  // namespace bilancetta
