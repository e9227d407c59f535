#pragma once

#include <string>
#include <vector>

#include "batch_context.hpp"
#include "bilancetta/batch.hpp"

namespace bilancetta
{

/// Column names of a result row, in order.
const std::vector<std::string>& result_columns();

/// One row in, one row out (without line end). `usable` is false for status error.
struct RowResult {
  std::string text;
  bool usable = true;
};
/// @param trouble  why the CSV row itself could not be read, or empty
/// @param carried  cells that are handed through after the result columns
RowResult result_row(const Prepared& prepared, BatchContexts& contexts, const BatchOptions& options,
                     const PieceText& text, int decimals, const std::string& where, const std::string& trouble,
                     const std::vector<std::string>& carried);

}  // namespace bilancetta
