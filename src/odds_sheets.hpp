#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "bilancetta/bench_test.hpp"

namespace bilancetta
{

/// By case of the facts (bench_test.hpp).
using ByFacts = std::array<float, fact_cases>;

/// Odds of the answers to tests for each member, case by case of the facts. A test asks for some facts only: those that
/// ask for the same stand on one sheet, with a row for each case of these facts and a column for each answer.
class OddsSheets
{
 public:
  /// What there will be room for: a test with so many answers that asks for these facts, a bit each as in facts_of.
  struct Asked {
    int facts, answers;
  };
  struct Place {
    int sheet, first;  ///< first of its columns, counted over all sheets
  };
  OddsSheets() = default;
  OddsSheets(const std::vector<Asked>& tests, std::size_t members);

  /// Of each test, in their order.
  [[nodiscard]] const std::vector<Place>& places() const { return places_; }
  /// Some belong to no test: those of a sheet fill whole registers.
  [[nodiscard]] int columns() const { return columns_; }
  /// Odds of the first answer to a test and, behind it, of the others; those of cases that differ in other facts are
  /// the same numbers.
  [[nodiscard]] float* of(std::size_t member, const Place& test, int which) { return &odds_[at(member, test, which)]; }
  [[nodiscard]] const float* of(std::size_t member, const Place& test, int which) const
  {
    return &odds_[at(member, test, which)];
  }
  /// One answer's odds of every member, by case of all facts.
  class Column
  {
   public:
    [[nodiscard]] ByFacts of(std::size_t member) const
    {
      const float* own = first_ + member * of_member_;
      ByFacts odds;
      for (int which = 0; which < fact_cases; ++which) {
        odds[which] = own[place_[which]];
      }
      return odds;
    }

   private:
    friend class OddsSheets;
    const float* first_ = nullptr;
    std::size_t of_member_ = 0;
    std::array<std::uint32_t, fact_cases> place_{};
  };
  /// @param answer  which of the test's; the sheets must outlive it
  [[nodiscard]] Column column(const Place& test, int answer) const;
  /// Cases of each sheet's facts, sheet by sheet.
  [[nodiscard]] int rows() const { return rows_; }
  /// Writes the weight of each row where the facts are weighed like this.
  void weigh_rows(const ByFacts& facts, float* weights) const;
  /// Adds `mass` times the odds of all answers, `columns()` of them, with rows weighed like this.
  void add(std::size_t member, const float* row_weights, float mass, float* out) const noexcept;

 private:
  struct Sheet {
    int facts;           ///< a bit each
    int rows, columns;   ///< columns in eights
    int first;           ///< of its columns
    std::size_t offset;  ///< of its first row among the odds of a member
  };
  [[nodiscard]] std::size_t at(std::size_t member, const Place& test, int which) const;
  std::vector<Place> places_;
  std::vector<Sheet> sheets_;
  int columns_ = 0, rows_ = 0;
  std::size_t of_member_ = 0;  // odds of one
  std::vector<float> odds_;    // member, sheet, row, column
};

}  // namespace bilancetta
