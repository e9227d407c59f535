#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "batch_columns.hpp"

namespace bilancetta
{

/// One row of the input, brought into fields.
struct ParsedRow {
  const PieceText* text = nullptr;
  const std::vector<std::string>* carried = nullptr;  ///< cells that are handed through
  int decimals = 0;                                   ///< of the scale's display, if nothing else is said
  std::optional<int> decimals_in_liquid;              ///< likewise, if another scale is taken to have read there
  long line = 0;
  std::string trouble;  ///< why the row could not be read, or empty
};

/// Brings one row after another into fields; each thread has its own. What it returns lasts until the next row.
class RowParser
{
 public:
  /// @param finest  decimals of the finest readings in the whole input, or 0
  RowParser(const BatchColumns& columns, const PieceText& defaults, char separator, FinestDecimals finest);
  /// Cuts up `text` in place.
  ParsedRow parse(char* text, std::size_t length, long line, std::string_view trouble);

 private:
  [[nodiscard]] bool ends_blank(std::size_t count) const;

  const BatchColumns* columns_;
  char separator_;
  FinestDecimals finest_;
  RowText text_;
  std::vector<std::string_view> cells_;
};

}  // namespace bilancetta
