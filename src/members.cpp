#include "bilancetta/members.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "drawn_density.hpp"
#include "draws.hpp"
#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

std::uint32_t hazards_of(const Tables& tables, const Hypothesis& h)
{
  std::uint32_t bits = 0;
  for (std::size_t k = 0; k < tables.cautions.size(); ++k) {
    for (const int material : {h.outer_material, h.inner_material}) {
      bits |= material >= 0 && counts_for(tables.cautions[k], tables.materials[material]) ? 1U << k : 0U;
    }
  }
  return bits;
}

std::array<double, 3> other_precious_of(const Tables& tables, const Hypothesis& h)
{
  const double typical[max_variables] = {};
  const Outcome<double> outcome = h.evaluate(typical);
  const auto fraction = [&](const char* key) { return fraction_of(h, outcome, find_constituent(tables, key)); };
  return {fraction("Au"), fraction("Pd"), fraction("Pt")};
}

}  // namespace

namespace
{

// The table takes points: some between each draw and the next.
ShareTable silver_table_of(const std::vector<float>& place, const std::vector<float>& fraction,
                           const std::vector<float>& weights, double scatter)
{
  std::vector<float> places;
  std::vector<float> fractions;
  std::vector<float> masses;
  // Two scatters apart: beyond sixteen points, few lines of hollow pieces have longer steps.
  const auto per_node = static_cast<float>(0.5 * density_grid::spacing / scatter);
  for (std::size_t i = 0; i < weights.size(); ++i) {
    const int points =
        weights[i] > 0.0F ? std::min(1 + static_cast<int>(per_node * std::abs(place[i + 1] - place[i])), 16) : 0;
    for (int k = 0; k < points; ++k) {
      const float t = (static_cast<float>(k) + 0.5F) / static_cast<float>(points);
      places.push_back(place[i] + t * (place[i + 1] - place[i]));
      fractions.push_back(fraction[i] + t * (fraction[i + 1] - fraction[i]));
      masses.push_back(weights[i] / static_cast<float>(points));
    }
  }
  return {places, fractions, masses, scatter};
}

// Of four outcomes among the nodes of the grid.
Four places_of(const Outcome<Four>& outcomes)
{
  constexpr auto per_spacing = static_cast<float>(1.0 / density_grid::spacing);
  constexpr auto per_highest = static_cast<float>(1.0 / density_grid::highest_g_cm3);
  return (outcomes.density * per_highest).log() * per_spacing + static_cast<float>(density_grid::nodes - 1);
}

// The place of each draw that has mass and of the one after it, four by four; `tell` hears of every four outcomes. The
// others are put where the typical piece is.
template <typename Tell>
std::vector<float> places_of_draws(const Hypothesis& hypothesis, bool fine, Tell tell)
{
  const std::vector<float>& weights = line_set_for(hypothesis, fine).weights;
  Four typical[max_variables];
  std::fill(std::begin(typical), std::end(typical), Four::Zero());
  std::vector<float> place(weights.size(), places_of(hypothesis.evaluate(typical))[0]);
  Draws all(hypothesis, fine);
  for (std::size_t i = 0; i < place.size(); i += 4) {
    const auto begin = weights.begin() + static_cast<std::ptrdiff_t>(i);
    if (std::any_of(begin - (i > 0 ? 1 : 0), begin + 4, [](float weight) { return weight > 0.0F; })) {
      const Outcome<Four> outcomes = all.outcomes(static_cast<int>(i));
      Four::Map(&place[i]) = places_of(outcomes);
      tell(i, outcomes);
    }
  }
  return place;
}

}  // namespace

Member finer(const Member& member)
{
  Member fine;
  fine.hypothesis = member.hypothesis;
  fine.fine = true;
  // Nothing finer is laid for few variables or the open mix.
  fine.place = &line_set_for(member.hypothesis, true) == &line_set_for(member.hypothesis)
                   ? member.place
                   : places_of_draws(member.hypothesis, true, [](std::size_t, const Outcome<Four>&) {});
  return fine;
}

bool counts_for(const Caution& caution, const Material& material)
{
  const auto among = [](const auto& all, const auto& one) {
    return std::find(all.begin(), all.end(), one) != all.end();
  };
  return among(material.cautions, caution.key) ||
         std::any_of(material.components.begin(), material.components.end(), [&](const Component& c) {
           return c.fraction.typical >= caution.counts_from && among(caution.constituents, c.constituent);
         });
}

Member member_of(const Tables& tables, const Hypothesis& hypothesis, bool with_silver)
{
  Member member;
  member.hypothesis = hypothesis;
  member.hazards = hazards_of(tables, hypothesis);
  member.carries_cadmium = carries(member, find_caution(tables, "cadmium"));
  member.pile = pile_for(tables, hypothesis);
  member.other_precious = other_precious_of(tables, hypothesis);
  const int silver = find_constituent(tables, "Ag");
  member.holds_silver = holds(hypothesis, silver);
  const bool tabulates = with_silver && member.holds_silver;
  const std::vector<float>& weights = line_set_for(hypothesis).weights;
  std::vector<float> fraction(tabulates ? weights.size() : 0);
  member.place = places_of_draws(hypothesis, false, [&](std::size_t i, const Outcome<Four>& outcomes) {
    if (tabulates) {
      Four::Map(&fraction[i]) = fraction_of(hypothesis, outcomes, silver);
    }
  });
  if (tabulates) {
    member.silver = silver_table_of(member.place, fraction, weights, hypothesis.scatter);
  }
  member.predicted = drawn_density_of(hypothesis, member.place);
  member.highest = *std::max_element(member.predicted.value.begin(), member.predicted.value.end());
  return member;
}

namespace
{

std::vector<Pyramid> pyramids_of(const std::vector<Member>& members)
{
  std::vector<Pyramid> pyramids;
  pyramids.reserve(members.size());
  for (const Member& member : members) {
    pyramids.emplace_back(member.predicted);
  }
  return pyramids;
}

}  // namespace

MemberGroup::MemberGroup(std::vector<Member> all) : members(std::move(all)), predictions(pyramids_of(members)) {}

MemberGroup::MemberGroup(std::vector<Member> all, const std::vector<Pyramid>& predicted)
    : members(std::move(all)), predictions(predicted)
{
}

Members::Members(std::vector<const MemberGroup*> groups) : groups_(std::move(groups))
{
  for (const MemberGroup* group : groups_) {
    for (const Member& member : group->members) {
      all_.push_back(&member);
      const Build build = member.hypothesis.build;
      if (runs_.empty() || runs_.back().build != build) {
        runs_.push_back({build, all_.size() - 1, all_.size()});
      }
      runs_.back().end = all_.size();
    }
  }
}

std::array<double, 4> Members::by_build(const std::vector<double>& each) const
{
  std::array<double, 4> sums{};
  for (const Run& run : runs_) {
    sums[static_cast<std::size_t>(run.build)] += sum_of(each.data() + run.first, run.end - run.first);
  }
  return sums;
}

std::vector<double> Members::evidence(const LevelWeights& weights) const
{
  std::vector<double> evidence(size());
  double* out = evidence.data();
  for (const MemberGroup* group : groups_) {
    group->predictions.under(weights, out);
    out += group->members.size();
  }
  return evidence;
}

Members::Part Members::part_of(std::size_t i) const
{
  auto group = groups_.begin();
  for (; i >= (*group)->members.size(); ++group) {
    i -= (*group)->members.size();
  }
  return {&(*group)->predictions, static_cast<int>(i)};
}

double Members::under(const LevelWeights& curve, std::size_t i) const
{
  const Part part = part_of(i);
  return part.predictions->under(curve, part.which);
}

double Members::mass_below(const LevelWeights& curve, std::size_t i) const
{
  const Part part = part_of(i);
  return part.predictions->mass_below(curve, part.which);
}

}  // namespace bilancetta
