#include "bilancetta/members.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include "drawn_density.hpp"
#include "share_grid.hpp"
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
  const auto fraction = [&](const char* key) { return fraction_of(h, outcome, find_constituent(tables, key)); };
  return {fraction("Au"), fraction("Pd"), fraction("Pt")};
}

}  // namespace

namespace
{

ShareTable share_table_of(const Draws& draws, const std::vector<float>& place, const std::vector<float>& share,
                          const BentSteps& bent)
{
  const std::vector<float>& weights = draws.set().weights;
  ShareGrid::Point lowest{place[0], share[0]};
  ShareGrid::Point highest = lowest;
  const auto reach = [&](const float* places, const float* shares, std::size_t count) {
    for (std::size_t i = 0; i < count; ++i) {
      lowest = {std::min(lowest.place, places[i]), std::min(lowest.share, shares[i])};
      highest = {std::max(highest.place, places[i]), std::max(highest.share, shares[i])};
    }
  };
  reach(place.data(), share.data(), place.size());
  for (std::size_t k = 0; k < bent.draws.size(); ++k) {
    reach(bent.places[k].data(), bent.shares[k].data(), 4);
  }
  ShareGrid grid(lowest, highest, draws.hypothesis().scatter, ShareTable::finest, ShareTable::bins);
  BentSteps::Reader bends(bent);
  for (std::size_t i = 0; i < weights.size(); ++i) {
    if (weights[i] <= 0.0F) {
      continue;
    }
    ShareGrid::Point from{place[i], share[i]};
    if (const int step = bends.at(static_cast<int>(i)); step >= 0) {
      for (int quarter = 0; quarter < 4; ++quarter) {
        const ShareGrid::Point to{bent.places[step][quarter], bent.shares[step][quarter]};
        grid.add(from, to, 0.25F * weights[i]);
        from = to;
      }
    } else {
      grid.add(from, {place[i + 1], share[i + 1]}, weights[i]);
    }
  }
  return ShareTable(std::move(grid));
}

// The place of each draw that has mass and of the one after it, four by four; `tell` hears of every four outcomes. The
// others are put where the typical piece is.
template <typename Tell>
std::vector<float> places_of_draws(Draws& all, Tell tell)
{
  const std::vector<float>& weights = all.set().weights;
  Four typical[max_variables];
  std::fill(std::begin(typical), std::end(typical), Four::Zero());
  std::vector<float> place(weights.size(), places_of(all.hypothesis().evaluate(typical))[0]);
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
  Draws draws(member.hypothesis, true);
  // Nothing finer is laid for one variable or the open mix.
  fine.place = &draws.set() == &line_set_for(member.hypothesis)
                   ? member.place
                   : places_of_draws(draws, [](std::size_t, const Outcome<Four>&) {});
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

Member untabulated_member_of(const Tables& tables, const Hypothesis& hypothesis)
{
  Member member;
  member.hypothesis = hypothesis;
  member.hazards = hazards_of(tables, hypothesis);
  member.carries_cadmium = carries(member, find_caution(tables, "cadmium"));
  member.pile = pile_for(tables, hypothesis);
  member.other_precious = other_precious_of(tables, hypothesis);
  member.holds_silver = holds(hypothesis, find_constituent(tables, "Ag"));
  return member;
}

Member member_of(const Tables& tables, const Hypothesis& hypothesis, Member::Serves serves)
{
  Member member = untabulated_member_of(tables, hypothesis);
  const int silver = find_constituent(tables, "Ag");
  const bool tabulates = serves != Member::Serves::verdicts && member.holds_silver;
  Draws draws(hypothesis);
  std::vector<float> fraction(tabulates ? draws.set().weights.size() : 0);
  std::vector<float> place = places_of_draws(draws, [&](std::size_t i, const Outcome<Four>& outcomes) {
    if (tabulates) {
      Four::Map(&fraction[i]) = fraction_of(hypothesis, outcomes, silver);
    }
  });
  const BentSteps bent = bent_steps_of(draws, place, tabulates ? silver : -1);
  if (tabulates) {
    member.silver = share_table_of(draws, place, fraction, bent);
  }
  member.predicted = drawn_density_of(draws, place, bent);
  if (serves != Member::Serves::rows) {
    member.place = std::move(place);
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
