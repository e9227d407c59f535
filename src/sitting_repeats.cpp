#include "sitting_repeats.hpp"

#include <algorithm>
#include <cmath>

#include "bilancetta/sitting.hpp"

namespace bilancetta
{

namespace
{

// Of a row that may stand for its piece, best first.
enum class Trust { known, fits, may_be_wrong, wrong };

// By the row's own numbers; what is known of its piece is no weighing.
Trust trust_in(long row, const std::vector<CheckedReading>& flagged)
{
  Trust trust = Trust::fits;
  auto c = std::lower_bound(flagged.begin(), flagged.end(), row,
                            [](const CheckedReading& reading, long wanted) { return reading.row < wanted; });
  for (; c != flagged.end() && c->row == row; ++c) {
    const bool own = c->reading != SittingReading::known_density && c->reading != SittingReading::known_mass;
    trust = own ? std::max(trust, c->one_of_several ? Trust::may_be_wrong : Trust::wrong) : trust;
  }
  return trust;
}

}  // namespace

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

std::vector<Repeat> SittingBuilder::repeats(const std::vector<CheckedReading>& flagged) const
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
    const auto others = std::stable_partition(
        from, to, [&](const Named& row) { return may_be_one_piece(row.dry_g, row.dry_u, middle); });
    const auto trust = [&](const Named& row) { return row.known ? Trust::known : trust_in(row.row, flagged); };
    const auto standing =
        std::min_element(from, others, [&](const Named& a, const Named& b) { return trust(a) < trust(b); });
    for (auto row = from; row != others; ++row) {
      if (row != standing) {
        all.push_back({row->row, standing->row});
      }
    }
  }
  std::sort(all.begin(), all.end(), [](const Repeat& a, const Repeat& b) { return a.row < b.row; });
  return all;
}

long standing_row_of(const SittingResult& result, long row)
{
  const auto match = std::lower_bound(result.repeats.begin(), result.repeats.end(), row,
                                      [](const Repeat& repeat, long wanted) { return repeat.row < wanted; });
  return match != result.repeats.end() && match->row == row ? match->standing : row;
}

}  // namespace bilancetta
