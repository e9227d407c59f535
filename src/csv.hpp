#pragma once

#include <cstddef>
#include <deque>
#include <istream>
#include <string>
#include <string_view>
#include <vector>

namespace bilancetta
{

/// Reads a CSV stream row by row in constant memory. Comma, semicolon or tab, found from the first
/// line; quoted fields may hold separators, quotes and line ends; CRLF, LF, CR and a UTF-8 mark are fine.
class CsvReader
{
 public:
  /// Longest row and most columns that are taken; a longer row is reported as unusable.
  static constexpr std::size_t longest_row = 4U << 20U;
  static constexpr std::size_t most_columns = 10000;
  /// A quoted cell may run over this many lines; a quote that is never closed spoils its own line only.
  static constexpr std::size_t most_lines_in_cell = 50;

  explicit CsvReader(std::istream& in) : in_(&in) {}

  struct Row {
    std::vector<std::string> cells;
    long line = 0;        ///< of its beginning, from 1
    std::string trouble;  ///< why the row is unusable, or empty
  };
  /// The next row that is not blank; false at the end.
  bool next(Row& row);
  [[nodiscard]] char separator() const { return separator_; }

 private:
  bool read_line(std::string& line, bool& too_long);
  std::string whole_quotes(std::string line, bool& open, bool& too_long);
  void find_separator(std::string_view line);
  std::istream* in_;
  std::deque<std::string> waiting_;  ///< lines read ahead in search of a closing quote
  char separator_ = 0;
  long line_ = 0;
};

/// A cell as it must be written: quoted where it holds the separator, quotes or line ends.
void append_cell(std::string& row, std::string_view cell, char separator = ',');

}  // namespace bilancetta
