#include "leave_out.hpp"

#include <algorithm>
#include <cmath>

using namespace bilancetta;

namespace validation
{

namespace
{

bool counts(const AlloyRow& other, const AlloyRow& row, Left left)
{
  switch (left) {
    case Left::nothing:
      return true;
    case Left::row:
      return &other != &row;
    case Left::composition:
      return other.composition_text != row.composition_text || other.process != row.process;
    case Left::source:
      return other.source != row.source;
  }
  return true;
}

}  // namespace

const char* name_of(Left left)
{
  constexpr const char* names[] = {"nothing (in sample)", "the row", "every row of its composition", "its source"};
  return names[static_cast<int>(left)];
}

std::vector<LeftOut> leave_out(const Tables& tables, const std::vector<AlloyRow>& rows, Left left, bool beside)
{
  std::vector<LeftOut> all;
  for (const AlloyRow& row : rows) {
    if (row.fitted || beside) {
      all.push_back(
          {&row, predict(tables, rows, row, [&](const AlloyRow& other) { return counts(other, row, left); })});
    }
  }
  return all;
}

Figures figures_of(const std::vector<LeftOut>& all)
{
  Figures f;
  std::vector<double> off;
  for (const LeftOut& one : all) {
    off.push_back(std::abs(one.off()));
    f.within += off.back() <= 0.015 ? 1.0 : 0.0;
    f.held += one.held() ? 1.0 : 0.0;
    f.beyond += off.back() > 0.03 ? 1 : 0;
    f.unsaid += off.back() > 0.03 && one.row->note.empty() ? 1 : 0;
  }
  f.rows = static_cast<int>(off.size());
  if (off.empty()) {
    return f;
  }
  std::sort(off.begin(), off.end());
  const std::size_t middle = off.size() / 2;
  f.median = off.size() % 2 ? off[middle] : 0.5 * (off[middle - 1] + off[middle]);
  f.largest = off.back();
  f.within /= f.rows;
  f.held /= f.rows;
  return f;
}

}  // namespace validation
