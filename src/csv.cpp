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
  ++line_;
  if (!waiting_.empty()) {
    line = std::move(waiting_.front());
    waiting_.pop_front();
    return true;
  }
  constexpr auto end = std::char_traits<char>::eof();
  line.clear();
  std::streambuf* buffer = in_->rdbuf();
  int c = buffer->sbumpc();
  if (c == end) {
    --line_;
    return false;
  }
  for (; c != end && c != '\n' && c != '\r'; c = buffer->sbumpc()) {
    if (line.size() < longest_row) {
      line += static_cast<char>(c);
    } else {
      too_long = true;
    }
  }
  if (c == '\r' && buffer->sgetc() == '\n') {
    buffer->sbumpc();
  }
  return true;
}

namespace
{

// Whether a quoted cell is still open at the end of these lines.
bool quote_open(std::string_view text, char separator)
{
  bool open = false;
  bool cell_empty = true;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (open) {
      if (text[i] == '"' && i + 1 < text.size() && text[i + 1] == '"') {
        ++i;
      } else if (text[i] == '"') {
        open = false;
      }
    } else if (text[i] == '"' && cell_empty) {
      open = true;
      cell_empty = false;
    } else {
      cell_empty = text[i] == separator || (cell_empty && text[i] == ' ');
    }
  }
  return open;
}

std::vector<std::string> split(const std::string& line, char separator)
{
  std::vector<std::string> cells(1);
  bool quoted = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const char c = line[i];
    std::string& cell = cells.back();
    if (quoted && c == '"' && i + 1 < line.size() && line[i + 1] == '"') {
      cell += line[++i];
    } else if (quoted && c == '"') {
      quoted = false;
    } else if (!quoted && c == '"' && cell.find_first_not_of(' ') == std::string::npos) {
      cell.clear();
      quoted = true;
    } else if (!quoted && c == separator) {
      cells.emplace_back();
    } else {
      cell += c;
    }
  }
  return cells;
}

}  // namespace

// The line with those that a quoted cell runs on to; lines after a quote that is never closed are given back.
std::string CsvReader::whole_quotes(std::string line, bool& open, bool& too_long)
{
  std::string whole = line;
  std::vector<std::string> ahead;
  open = quote_open(whole, separator_);
  while (open && ahead.size() < most_lines_in_cell && whole.size() < longest_row) {
    std::string more;
    if (!read_line(more, too_long)) {
      break;
    }
    whole += '\n' + more;
    ahead.push_back(std::move(more));
    open = quote_open(whole, separator_);
  }
  if (!open) {
    return whole;
  }
  line_ -= static_cast<long>(ahead.size());
  waiting_.insert(waiting_.begin(), ahead.begin(), ahead.end());
  return line;
}

bool CsvReader::next(Row& row)
{
  std::string line;
  bool too_long = false;
  row.trouble.clear();
  do {
    too_long = false;
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
  bool open = false;
  row.cells = split(whole_quotes(std::move(line), open, too_long), separator_);
  if (open) {
    row.trouble = "a quoted cell is never closed; check the quotation marks of this line";
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
