#include "bilancetta/members.hpp"

#include <algorithm>
#include <cstring>
#include <limits>

#include "drawn_density.hpp"
#include "share_points.hpp"
#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

static_assert(max_cautions <= std::numeric_limits<decltype(Member::hazards)>::digits);

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
  std::array<double, 3> fractions{};
  std::transform(precious_metals.begin() + 1, precious_metals.end(), fractions.begin(),
                 [&](const char* key) { return fraction_of(h, outcome, find_constituent(tables, key)); });
  return fractions;
}

// The place of each draw that has mass and of the one after it, and its share of a constituent if one is given. The
// others are put where the typical piece is.
std::vector<float> places_of_draws(Draws& all, int constituent, std::vector<float>& share)
{
  const LineSet& set = all.set();
  const double middle[max_variables] = {};
  const Outcome<double> typical = all.hypothesis().evaluate(middle);
  std::vector<float> place(set.weights.size(), static_cast<float>(density_grid::position_of(typical.density)));
  if (constituent >= 0) {
    share.assign(place.size(), static_cast<float>(fraction_of(all.hypothesis(), typical, constituent)));
  }
  for (int line = 0; line < set.lines; ++line) {
    const auto [first, end] = set.filled[line];
    for (int draw = first; first < end && draw <= end; draw += Lanes::count) {
      const Draws::Seen seen = all.seen_at(line, Lanes::even(draw - line * set.nodes, 1.0), constituent);
      const std::size_t bytes = sizeof(float) * static_cast<std::size_t>(std::min(Lanes::count, end + 1 - draw));
      std::memcpy(&place[draw], &seen.place, bytes);
      if (constituent >= 0) {
        std::memcpy(&share[draw], &seen.share, bytes);
      }
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
  Draws draws(member.hypothesis, true);
  // Nothing finer is laid for one variable or the open mix.
  std::vector<float> no_share;
  fine.place = &draws.set() == &line_set_for(member.hypothesis) ? member.place : places_of_draws(draws, -1, no_share);
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

bool makes_true(const Claim& claim, const MemberTraits& traits)
{
  const std::vector<int>& outside = claim.plated_with.empty() ? claim.materials : claim.plated_with;
  return traits.kind == (claim.plated_with.empty() ? Kind::solid : Kind::plated) &&
         std::find(outside.begin(), outside.end(), traits.outer_material) != outside.end();
}

Member untabulated_member_of(const Tables& tables, const Hypothesis& hypothesis)
{
  constexpr double precious_from = 0.01;
  Member member;
  member.hypothesis = hypothesis;
  member.hazards = hazards_of(tables, hypothesis);
  member.carries_cadmium = carries(member, find_caution(tables, "cadmium"));
  member.pile = pile_for(tables, hypothesis);
  member.build = hypothesis.build;
  member.kind = hypothesis.kind;
  member.outer_material = hypothesis.outer_material;
  member.other_precious = other_precious_of(tables, hypothesis);
  const double most = *std::max_element(member.other_precious.begin(), member.other_precious.end());
  member.holds_precious = most > 0.0;
  member.precious = most > precious_from;
  member.holds_silver = holds(hypothesis, find_constituent(tables, "Ag"));
  return member;
}

Member member_of(const Tables& tables, const Hypothesis& hypothesis, Member::Serves serves)
{
  Member member = untabulated_member_of(tables, hypothesis);
  const int silver = serves != Member::Serves::verdicts && member.holds_silver ? find_constituent(tables, "Ag") : -1;
  Draws draws(hypothesis);
  std::vector<float> share;
  std::vector<float> place = places_of_draws(draws, silver, share);
  BentSteps bent = bent_steps_of(draws, place, silver);
  member.predicted = drawn_density_of(draws, place, bent);
  if (serves != Member::Serves::rows) {
    member.place = place;
  }
  if (silver >= 0) {
    member.silver = DrawnShare({&draws.set(), hypothesis.scatter, std::move(place), std::move(share), std::move(bent)});
  }
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
      traits_.push_back(member);
      holds_silver_.push_back(member.holds_silver ? 1.0 : 0.0);
      if (runs_.empty() || runs_.back().build != member.build) {
        runs_.push_back({member.build, all_.size() - 1, all_.size()});
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

BILANCETTA_VECTORISED double Members::with_silver(const std::vector<double>& each) const noexcept
{
  return dot_of(each.data(), holds_silver_.data(), size());
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
