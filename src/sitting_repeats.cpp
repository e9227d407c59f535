#include "sitting_repeats.hpp"

#include <algorithm>
#include <cmath>

#include "bilancetta/sitting.hpp"

namespace bilancetta
{

double middle_dry_g(std::vector<double>& dry_g)
{
  const auto middle = dry_g.begin() + static_cast<std::ptrdiff_t>(dry_g.size() / 2);
  std::nth_element(dry_g.begin(), middle, dry_g.end());
  return *middle;
}

bool may_be_one_piece(double dry_g, double dry_u, double middle_g)
{
  constexpr double part = 0.05;  // dry weights of one piece never differ by more
  return std::abs(dry_g - middle_g) <= part * middle_g + 20.0 * dry_u;
}

std::vector<Repeat> SittingBuilder::repeats() const
{
  std::vector<Named> rows = named_;
  std::stable_sort(rows.begin(), rows.end(), [](const Named& a, const Named& b) { return a.name < b.name; });
  std::vector<Repeat> all;
  std::vector<double> dry;
  for (auto from = rows.begin(), to = from; from != rows.end(); from = to) {
    to = std::find_if(from, rows.end(), [&](const Named& row) { return row.name != from->name; });
    dry.clear();
    std::transform(from, to, std::back_inserter(dry), [](const Named& row) { return row.dry_g; });
    const double middle = middle_dry_g(dry);
    const auto of_the_piece = [&](const Named& row) { return may_be_one_piece(row.dry_g, row.dry_u, middle); };
    const auto first = std::find_if(from, to, of_the_piece);
    for (auto row = first; row != to; ++row) {
      if (row != first && of_the_piece(*row)) {
        all.push_back({row->row, first->row});
      }
    }
  }
  std::sort(all.begin(), all.end(), [](const Repeat& a, const Repeat& b) { return a.row < b.row; });
  return all;
}

long first_weighing_of(const SittingResult& result, long row)
{
  const auto match = std::lower_bound(result.repeats.begin(), result.repeats.end(), row,
                                      [](const Repeat& repeat, long wanted) { return repeat.row < wanted; });
  return match != result.repeats.end() && match->row == row ? match->first : row;
}

}  // namespace bilancetta
