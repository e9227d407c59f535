#pragma once

#include <cstddef>
#include <cstdint>
#include <istream>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "words.hpp"

namespace bilancetta
{

/// Reads a CSV stream row by row in constant memory, in blocks, without copying a row. Comma, semicolon or tab,
/// found from the first row, or named by a first line such as "sep=;", which is passed over; quoted fields may hold
/// separators, quotes and line ends; CRLF, LF, CR and a UTF-8 mark are fine.
class CsvReader
{
 public:
  /// Longest row that is taken, in bytes; of a longer one only the beginning is kept.
  static constexpr std::size_t longest_row = 4U << 20U;
  /// A quoted cell may run over this many lines; a quote that is never closed spoils its own line only.
  static constexpr int most_lines_in_cell = 50;

  explicit CsvReader(std::istream& in) : in_(&in) {}

  struct Row {
    std::string_view text;     ///< as it stands in the stream, without its line end; valid until the next call
    long line = 0;             ///< of its beginning, from 1
    std::string_view trouble;  ///< why the row is unusable, or empty
  };
  /// The next row that is not blank; false at the end.
  bool next(Row& row);
  /// Whether next() can give a line without reading from the stream.
  [[nodiscard]] bool ready() const;
  [[nodiscard]] char separator() const { return separator_; }
  /// Bytes of the stream up to the end of the last row.
  [[nodiscard]] std::uint64_t bytes() const { return bytes_; }

 private:
  bool read_block();
  std::size_t line_end(std::size_t from);
  std::size_t after_line_end(std::size_t end);
  std::size_t row_end(bool& open);
  void skip_long_line(Row& row);
  void use_up(std::size_t length);
  [[nodiscard]] std::string_view unread() const { return std::string_view(buffer_).substr(begin_); }

  std::istream* in_;
  std::string buffer_;      // what was read and not yet passed on begins at begin_
  std::size_t begin_ = 0;   // positions in the functions above count from here
  std::string long_begin_;  // what is kept of a row that is too long
  std::uint64_t bytes_ = 0;
  long line_ = 1;
  char separator_ = 0;
};

/// Most columns that are taken.
inline constexpr std::size_t most_columns = 10000;

/// The cells of a row, as views into its text, which is changed where quotes are taken out. Stops after `most`
/// cells; returns the number of all cells.
std::size_t split_row(char* text, std::size_t length, char separator, std::vector<std::string_view>& cells,
                      std::size_t most = most_columns);

/// A cell as it must be written: quoted where it holds the separator, quotes or line ends.
void append_cell(std::string& row, std::string_view cell, char separator = ',');

/// One row of CSV, cell by cell.
class RowWriter
{
 public:
  void cell(std::string_view text)
  {
    if (count_++ > 0) {
      row_ += ',';
    }
    append_cell(row_, text);
  }
  void cells(const std::vector<std::string>& texts)
  {
    for (const std::string& text : texts) {
      cell(text);
    }
  }
  void number(double value, int decimals) { cell(fixed(value, decimals)); }
  void blanks(int how_many)
  {
    for (int i = 0; i < how_many; ++i) {
      cell("");
    }
  }
  [[nodiscard]] std::string take() { return std::move(row_); }

 private:
  std::string row_;
  int count_ = 0;
};

}  // namespace bilancetta
