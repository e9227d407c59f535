#include "sitting_fit.hpp"

#include <algorithm>
#include <cmath>

namespace bilancetta
{

namespace
{

std::vector<CheckedReading> in_liquid(const std::vector<CheckedReading>& readings)
{
  std::vector<CheckedReading> some;
  std::copy_if(readings.begin(), readings.end(), std::back_inserter(some),
               [](const CheckedReading& c) { return c.reading == SittingReading::in_liquid; });
  return some;
}

// More than slips of the pen would be (judgement).
bool too_many_flagged(const std::vector<CheckedReading>& of_liquid)
{
  const auto flagged = static_cast<std::size_t>(
      std::count_if(of_liquid.begin(), of_liquid.end(), [](const CheckedReading& c) { return c.flagged; }));
  return flagged > 1 && 4 * flagged >= of_liquid.size();
}

// What a chi-square of so many degrees of freedom exceeds once in a hundred (Wilson and Hilferty, "The distribution of
// chi-square", PNAS 17 (1931) 684; from memory).
double usual_most(double freedom)
{
  constexpr double normal_99 = 2.326;
  const double part = 2.0 / (9.0 * freedom);
  return freedom * std::pow(1.0 - part + normal_99 * std::sqrt(part), 3);
}

std::optional<MovedZero> moved_in_order(const std::vector<CheckedReading>& in_order)
{
  constexpr std::size_t several = 3;  // slips alike are no chance (judgement)
  constexpr double seldom = 2.0;      // one in twenty that is as it should be
  const auto is_off = [](const CheckedReading& c) { return c.flagged || std::abs(c.w) > seldom; };
  const auto first = std::find_if(in_order.begin(), in_order.end(), is_off);
  std::vector<double> off;
  for (auto c = first; c != in_order.end(); ++c) {
    if (is_off(*c)) {
      off.push_back(c->off);
    }
  }
  if (first == in_order.begin() || off.size() < several ||
      4 * off.size() < 3 * static_cast<std::size_t>(in_order.end() - first)) {
    return {};
  }
  std::sort(off.begin(), off.end());
  const double middle = off[off.size() / 2];
  const bool alike = off.front() / middle > 0.5 && off.front() / middle < 2.0 && off.back() / middle > 0.5 &&
                     off.back() / middle < 2.0;
  return alike ? std::optional(MovedZero{first->row, true, middle}) : std::nullopt;
}

}  // namespace

double dark_u_of(const std::vector<CheckedReading>& readings)
{
  const std::vector<CheckedReading> of_liquid = in_liquid(readings);
  const bool no_slips = too_many_flagged(of_liquid);
  double checked = 0.0;
  double squares = 0.0;
  double weights = 0.0;
  for (const CheckedReading& c : of_liquid) {
    if (c.w != 0.0 && (no_slips || !c.flagged)) {
      ++checked;
      squares += c.w * c.w;
      weights += std::pow(c.w / c.off, 2);
    }
  }
  return checked > 0.0 && squares > usual_most(checked) ? std::sqrt((squares - checked) / weights) : 0.0;
}

std::optional<MovedZero> moved_zero_of(const std::vector<CheckedReading>& readings)
{
  std::vector<CheckedReading> in_order = in_liquid(readings);
  std::sort(in_order.begin(), in_order.end(),
            [](const CheckedReading& a, const CheckedReading& b) { return a.row < b.row; });
  if (const auto later = moved_in_order(in_order)) {
    return later;
  }
  std::reverse(in_order.begin(), in_order.end());
  std::optional<MovedZero> earlier = moved_in_order(in_order);
  if (earlier) {
    earlier->after = false;
  }
  return earlier;
}

}  // namespace bilancetta
