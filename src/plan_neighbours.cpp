#include <algorithm>

#include "bilancetta/plan.hpp"

namespace bilancetta
{

namespace
{

// The first of the rows of a family that are commonest at a place, or -1.
int commonest_row(const Tables& tables, const std::string& family, const std::string& place)
{
  const auto weight = [&](int index) {
    const auto found = tables.materials[index].found.find(place);
    return found == tables.materials[index].found.end() ? 0 : static_cast<int>(found->second);
  };
  int best = -1;
  for (int m = 0; m < static_cast<int>(tables.materials.size()); ++m) {
    if (tables.materials[m].group == family && (best < 0 || weight(m) > weight(best))) {
      best = m;
    }
  }
  return best;
}

}  // namespace

std::vector<Neighbours> neighbours_at(const Tables& tables, const PlannedWeighing& plan, const std::string& place)
{
  const Place& here = place_called(tables, place);
  std::vector<std::pair<double, int>> common;
  for (const auto& [family, commonness] : here.families) {
    const int row = commonness < Commonness::common ? -1 : commonest_row(tables, family, here.key);
    if (row >= 0) {
      common.emplace_back(typical_density_g_cm3(tables.materials[row], tables.constituents), row);
    }
  }
  std::sort(common.begin(), common.end());
  std::vector<Neighbours> neighbours;
  for (std::size_t i = 0; i + 1 < common.size(); ++i) {
    const int lighter = common[i].second;
    const int heavier = common[i + 1].second;
    neighbours.push_back({lighter, heavier, chance_apart(tables, plan, lighter, heavier)});
  }
  return neighbours;
}

}  // namespace bilancetta
