#include "odds_sheets.hpp"

#include <algorithm>
#include <bit>
#include <cstdint>
#include <map>

#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

constexpr int eight = 8;

// Which row of a sheet a case of all facts is: the bits of the facts that it asks for, side by side.
constexpr auto row_of = [] {
  std::array<std::array<std::uint8_t, fact_cases>, fact_cases> all{};
  for (unsigned facts = 0; facts < fact_cases; ++facts) {
    for (unsigned which = 0; which < fact_cases; ++which) {
      unsigned place = 0;
      for (unsigned bit = 1; bit < fact_cases; bit <<= 1U) {
        if ((facts & bit) != 0) {
          all[facts][which] |= static_cast<std::uint8_t>((which & bit) != 0 ? 1U << place : 0U);
          ++place;
        }
      }
    }
  }
  return all;
}();

// Rows that follow each other, all in one pass.
template <int rows>
BILANCETTA_INLINE void add_rows(const float* from, const float* weights, float mass, int columns, float* out)
{
  for (int first = 0; first < columns; first += eight) {
    Eight sum{};
    Eight here;
    for (int row = 0; row < rows; ++row) {
      load(from + static_cast<std::ptrdiff_t>(row) * columns + first, here);
      sum += weights[row] * here;
    }
    load(out + first, here);
    store(here + mass * sum, out + first);
  }
}

}  // namespace

OddsSheets::OddsSheets(const std::vector<Asked>& tests, std::size_t members) : places_(tests.size())
{
  std::map<int, std::vector<std::size_t>> by_facts;
  for (std::size_t t = 0; t < tests.size(); ++t) {
    by_facts[tests[t].facts].push_back(t);
  }
  for (const auto& [facts, alike] : by_facts) {
    const int first = columns_;
    for (const std::size_t t : alike) {
      places_[t] = {static_cast<int>(sheets_.size()), columns_};
      columns_ += tests[t].answers;
    }
    columns_ = (columns_ + eight - 1) / eight * eight;
    const int rows = 1 << std::popcount(static_cast<unsigned>(facts));
    sheets_.push_back({facts, rows, columns_ - first, first, of_member_});
    of_member_ += static_cast<std::size_t>(rows) * static_cast<std::size_t>(columns_ - first);
    rows_ += rows;
  }
  odds_.assign(members * of_member_, 0.0F);
}

std::size_t OddsSheets::at(std::size_t member, const Place& test, int which) const
{
  const Sheet& sheet = sheets_[test.sheet];
  return member * of_member_ + sheet.offset +
         static_cast<std::size_t>(row_of[sheet.facts][which] * sheet.columns + test.first - sheet.first);
}

OddsSheets::Column OddsSheets::column(const Place& test, int answer) const
{
  Column column;
  column.first_ = odds_.data();
  column.of_member_ = of_member_;
  for (int which = 0; which < fact_cases; ++which) {
    column.place_[which] = static_cast<std::uint32_t>(at(0, test, which) + static_cast<std::size_t>(answer));
  }
  return column;
}

void OddsSheets::weigh_rows(const ByFacts& facts, float* weights) const
{
  std::fill(weights, weights + rows_, 0.0F);
  for (const Sheet& sheet : sheets_) {
    for (int which = 0; which < fact_cases; ++which) {
      weights[row_of[sheet.facts][which]] += facts[which];
    }
    weights += sheet.rows;
  }
}

BILANCETTA_VECTORISED void OddsSheets::add(std::size_t member, const float* row_weights, float mass,
                                           float* out) const noexcept
{
  const float* from = &odds_[member * of_member_];
  for (const Sheet& sheet : sheets_) {
    switch (sheet.rows) {
      case 1:
        add_rows<1>(from, row_weights, mass, sheet.columns, out);
        break;
      case 2:
        add_rows<2>(from, row_weights, mass, sheet.columns, out);
        break;
      case 4:
        add_rows<4>(from, row_weights, mass, sheet.columns, out);
        break;
      default:
        add_rows<fact_cases>(from, row_weights, mass, sheet.columns, out);
    }
    from += static_cast<std::ptrdiff_t>(sheet.rows) * sheet.columns;
    out += sheet.columns;
    row_weights += sheet.rows;
  }
}

}  // namespace bilancetta
