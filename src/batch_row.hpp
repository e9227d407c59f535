#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "batch_context.hpp"
#include "bilancetta/batch.hpp"
#include "bilancetta/jar.hpp"
#include "bilancetta/sitting.hpp"
#include "row_parser.hpp"

namespace bilancetta
{

/// Column names of a result row, in order.
const std::vector<std::string>& result_columns();

/// What all rows of a batch share; made before the first of them, then only read (contexts lock themselves).
struct BatchShared {
  const BatchOptions& options;
  const Prepared& prepared;
  BatchContexts& contexts;
  MixtureRange mixtures;
  std::optional<SittingResult> sitting;
  std::unique_ptr<const LearnedMix> mix;
  std::unique_ptr<const PreciousContent> content;  ///< if totals are wanted
};

/// The row that stands for the piece of this one: in a sitting one of those that weighed it, else the row itself.
long row_of_piece(const BatchShared& shared, long line);
/// Whether a row is a part of the jar: no known piece, and none for which another row stands.
bool counts_in_jar(const BatchShared& shared, const Piece& piece, long line);

/// The piece of a row, its weighing corrected by the sitting. @throws Error with what is wrong in the row.
PieceRead piece_of_row(const BatchShared& shared, const ParsedRow& row);

/// A row of the input as its piece, or why it has none; lasts longer than the parser's.
struct ReadRow {
  std::string name;
  std::vector<std::string> carried;
  long line = 0;
  std::optional<PieceRead> read;
  std::string trouble;
};
ReadRow read_row(const BatchShared& shared, const ParsedRow& row);

/// One row in, one row out (without line end). `usable` is false for status error.
struct RowResult {
  std::string text;
  bool usable = true;
  std::optional<JarRow> jar;  ///< if totals are wanted and the row is usable
};
RowResult result_row(const BatchShared& shared, const ReadRow& row);

}  // namespace bilancetta
