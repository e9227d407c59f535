#pragma once

#include <algorithm>
#include <string>
#include <string_view>
#include <vector>

#include "bilancetta/error.hpp"
#include "bilancetta/piece_text.hpp"

namespace bilancetta
{

/// Where each column of a CSV of weighings goes: into a field, or through to the output.
struct BatchColumns {
  struct Read {
    std::size_t column;
    Field field;
  };
  std::vector<Read> read;
  std::vector<std::size_t> carried;
  std::vector<std::string> carried_names;  ///< as they stand in the output: each name once
  std::vector<std::string> own_names;      ///< the same as in the header, each once among themselves
  std::size_t count = 0;
  std::vector<std::string> remarks;  ///< of names that are handed through but look like misspelt ones
};

/// @param header     the cells of the first row
/// @param taken      names of the result's own columns
/// @param keep_input carry the columns that are read as well
/// @param where      the file and the line of that row, for messages
/// A name that nobody knows is handed through; if it is close to a known one, a remark says so. The result's own
/// columns are no misspellings: they come back with a result that is read again.
/// @throws Error (bad_csv) if a known column stands twice, or dry_g is missing.
BatchColumns columns_of(const std::vector<std::string_view>& header, const std::vector<std::string>& taken,
                        bool keep_input, const Where& where);

/// Finest decimals of the columns of a file, in which spreadsheets drop zeros.
struct FinestDecimals {
  int dry = 0, in_liquid = 0;
  long rows_in_liquid = 0;  ///< with a reading there, as far as the same scale is thought to have read it
  /// Zeros may have been dropped from one or two numbers; where three are coarser another scale is taken to have read
  /// them (or finer).
  [[nodiscard]] bool of_two_scales() const { return rows_in_liquid >= 3 && dry != in_liquid; }
  [[nodiscard]] int of_all() const { return std::max(dry, in_liquid); }
};
/// Those of a row, where it is finer. Cheap: nothing else of the row is looked at.
/// @param liquid_scale  of all rows: another scale stands in the liquid
FinestDecimals finest_reading(const std::vector<std::string_view>& cells, const BatchColumns& columns, char separator,
                              FinestDecimals finest, bool liquid_scale);

/// The texts of one row after another; made once, so that a row costs no more than its own cells.
class RowText
{
 public:
  /// `defaults` fill blank cells, except those of tests.
  RowText(const BatchColumns& columns, const PieceText& defaults, char separator);
  void read(const std::vector<std::string_view>& cells);
  /// Whether numbers of the row have decimal commas and decimal points: what a thousand's point would look like.
  [[nodiscard]] bool has_both_decimal_signs() const { return comma_ && point_; }
  /// Whether a weight of the row has a decimal point: then its commas are no decimal ones.
  [[nodiscard]] bool has_decimal_points() const { return point_; }
  [[nodiscard]] const PieceText& text() const { return text_; }
  [[nodiscard]] const std::vector<std::string>& carried() const { return carried_; }

 private:
  const BatchColumns* columns_;
  const PieceText* defaults_;
  char separator_;
  bool comma_ = false, point_ = false;
  PieceText text_;
  std::vector<std::string> carried_;
};

}  // namespace bilancetta
