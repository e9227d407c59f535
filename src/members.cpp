#include <numeric>

#include "bilancetta/posterior.hpp"
#include "vectorised.hpp"

namespace bilancetta
{

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
