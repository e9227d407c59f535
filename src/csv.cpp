#include "csv.hpp"

#include <algorithm>

namespace bilancetta
{

void CsvReader::find_separator(std::string_view line)
{
  long best = -1;
  for (const char candidate : {',', ';', '\t'}) {
    const long count = std::count(line.begin(), line.end(), candidate);
    if (count > best) {
      best = count;
      separator_ = candidate;
    }
  }
}

// One physical line without its end; a line beyond longest_row is read to its end and dropped.
bool CsvReader::read_line(std::string& line, bool& too_long)
{
  line.clear();
  std::streambuf* buffer = in_->rdbuf();
  int c = buffer->sbumpc();
  if (c == std::char_traits<char>::eof()) {
    return false;
  }
  for (; c != std::char_traits<char>::eof() && c != '\n'; c = buffer->sbumpc()) {
    if (line.size() < longest_row) {
      line += static_cast<char>(c);
    } else {
      too_long = true;
    }
  }
  ++line_;
  if (!line.empty() && line.back() == '\r') {
    line.pop_back();
  }
  return true;
}

bool CsvReader::next(Row& row)
{
  std::string line;
  bool too_long = false;
  row.cells.clear();
  row.trouble.clear();
  do {
    if (!read_line(line, too_long)) {
      return false;
    }
    if (line_ == 1 && line.starts_with("\xEF\xBB\xBF")) {
      line.erase(0, 3);
    }
  } while (line.find_first_not_of(" \t,;") == std::string::npos);
  row.line = line_;
  if (separator_ == 0) {
    find_separator(line);
  }
  std::string cell;
  std::size_t i = 0;
  bool quoted = false;
  for (;;) {
    if (i >= line.size()) {
      std::string more;
      if (quoted && cell.size() < longest_row && read_line(more, too_long)) {
        cell += '\n';
        line = std::move(more);
        i = 0;
        continue;
      }
      break;
    }
    const char c = line[i++];
    if (quoted) {
      if (c != '"') {
        cell += c;
      } else if (i < line.size() && line[i] == '"') {
        cell += '"';
        ++i;
      } else {
        quoted = false;
      }
    } else if (c == '"' && cell.find_first_not_of(' ') == std::string::npos) {
      cell.clear();
      quoted = true;
    } else if (c == separator_) {
      row.cells.push_back(std::move(cell));
      cell.clear();
    } else {
      cell += c;
    }
  }
  row.cells.push_back(std::move(cell));
  if (quoted) {
    row.trouble = "a quoted cell is never closed; check the quotation marks from here on";
  } else if (too_long) {
    row.trouble = "the row is longer than 4 MB; is this really a table of weighings?";
  } else if (row.cells.size() > most_columns) {
    row.trouble = "the row has more than 10000 columns; is this really a table of weighings?";
  }
  return true;
}

void append_cell(std::string& row, std::string_view cell, char separator)
{
  const bool plain =
      cell.find_first_of("\"\r\n") == std::string_view::npos && cell.find(separator) == std::string_view::npos;
  if (plain) {
    row += cell;
    return;
  }
  row += '"';
  for (const char c : cell) {
    row += c;
    if (c == '"') {
      row += '"';
    }
  }
  row += '"';
}

}  // namespace bilancetta
