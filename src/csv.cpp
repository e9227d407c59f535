#include "csv.hpp"

#include <algorithm>
#include <cstring>

namespace bilancetta
{

namespace
{

constexpr std::size_t block = 1U << 16U;
constexpr std::size_t kept_of_long_row = 1000;
constexpr std::string_view separators = ",;\t";

char separator_of(std::string_view line)
{
  return *std::max_element(separators.begin(), separators.end(), [&](char a, char b) {
    return std::count(line.begin(), line.end(), a) < std::count(line.begin(), line.end(), b);
  });
}

// The character that a spreadsheet names as separator in a first line of its own, "sep=;"; 0: this is no such line.
char separator_named_in(std::string_view line)
{
  constexpr std::string_view name = "sep=";
  const bool named = line.size() == name.size() + 1 && std::equal(name.begin(), name.end(), line.begin(),
                                                                  [](char a, char b) { return a == lower_letter(b); });
  return named ? line.back() : '\0';
}

// Follows the quotes of a row from one line to the next.
struct QuoteState {
  bool open = false;
  bool cell_empty = true;
  bool torn = false;  // something follows a closing quote within its cell

  void follow(std::string_view text, char separator)
  {
    for (std::size_t i = 0; i < text.size(); ++i) {
      if (open) {
        if (text[i] == '"' && i + 1 < text.size() && text[i + 1] == '"') {
          ++i;
        } else if (text[i] == '"') {
          open = false;
          torn = torn || (i + 1 < text.size() && text[i + 1] != separator && text[i + 1] != ' ' && text[i + 1] != '\r');
        }
      } else if (text[i] == '"' && cell_empty) {
        open = true;
        cell_empty = false;
      } else {
        cell_empty = text[i] == separator || (cell_empty && text[i] == ' ');
      }
    }
  }
};

}  // namespace

// Adds what the stream has at hand, at most a block, and waits only when it has nothing.
bool CsvReader::read_block()
{
  std::streambuf* source = in_->rdbuf();
  if (source->sgetc() == std::char_traits<char>::eof()) {
    return false;
  }
  buffer_.erase(0, begin_);
  begin_ = 0;
  const auto at_hand = static_cast<std::size_t>(std::max<std::streamsize>(source->in_avail(), 1));
  const std::size_t old = buffer_.size();
  buffer_.resize(old + std::min(at_hand, block));
  const std::streamsize got = source->sgetn(buffer_.data() + old, static_cast<std::streamsize>(buffer_.size() - old));
  buffer_.resize(old + static_cast<std::size_t>(std::max<std::streamsize>(got, 0)));
  return got > 0;
}

bool CsvReader::ready() const
{
  return unread().find('\n') != std::string_view::npos;
}

// Where the line that begins at `from` ends: at a line end, at the end of the stream, or beyond the longest row.
std::size_t CsvReader::line_end(std::size_t from)
{
  std::size_t i = from;
  do {
    const std::string_view text = unread();
    while (i < text.size() && text[i] != '\n' && text[i] != '\r') {
      ++i;
    }
    if (i < text.size()) {
      return i;
    }
  } while (i <= longest_row && read_block());
  return i;
}

std::size_t CsvReader::after_line_end(std::size_t end)
{
  if (end >= unread().size()) {
    return end;
  }
  if (unread()[end] == '\r' && (end + 1 < unread().size() || read_block()) && unread()[end + 1] == '\n') {
    return end + 2;
  }
  return end + 1;
}

void CsvReader::use_up(std::size_t length)
{
  begin_ += length;
  bytes_ += length;
}

// The end of the row with the lines that a quoted cell runs on to; of the first line alone if the quote stays open.
std::size_t CsvReader::row_end(bool& open)
{
  const std::size_t first = line_end(0);
  open = false;
  if (std::memchr(unread().data(), '"', first) == nullptr) {
    return first;
  }
  if (separator_ == 0) {
    separator_ = separator_of(unread().substr(0, first));
  }
  QuoteState state;
  std::size_t from = 0;
  std::size_t end = first;
  for (int lines = 0;; ++lines) {
    state.follow(unread().substr(from, end - from), separator_);
    from = after_line_end(end);
    if (!state.open) {
      // Quotes that do not pair up swallow the lines between: each stands for itself.
      open = state.torn && lines > 0;
      return open ? first : end;
    }
    if (lines == most_lines_in_cell || end > longest_row || (from == unread().size() && !read_block())) {
      open = true;
      return first;
    }
    end = line_end(from);
  }
}

// Keeps the beginning and reads over the rest, block by block.
void CsvReader::skip_long_line(Row& row)
{
  long_begin_ = unread().substr(0, kept_of_long_row);
  row.text = long_begin_;
  row.trouble = "the row is longer than 4 MB; is this really a table of weighings?";
  std::size_t end = line_end(0);
  while (end == unread().size()) {
    use_up(end);
    if (!read_block()) {
      return;
    }
    end = line_end(0);
  }
  use_up(after_line_end(end));
}

bool CsvReader::next(Row& row)
{
  while (begin_ < buffer_.size() || read_block()) {
    if (bytes_ == 0) {
      while (unread().size() < 3 && read_block()) {
      }
      use_up(unread().starts_with("\xEF\xBB\xBF") ? 3 : 0);
    }
    bool open = false;
    row.trouble = {};
    row.line = line_;
    const std::size_t end = row_end(open);
    if (end > longest_row) {
      ++line_;
      skip_long_line(row);
    } else {
      const std::size_t next_begin = after_line_end(end);
      row.text = unread().substr(0, end);
      // A quoted cell's own line ends count, CRLF and CR as well.
      line_ += 1 + std::count(row.text.begin(), row.text.end(), '\n');
      for (std::size_t i = row.text.find('\r'); i != std::string_view::npos; i = row.text.find('\r', i + 1)) {
        line_ += i + 1 < end && row.text[i + 1] == '\n' ? 0 : 1;
      }
      use_up(next_begin);
    }
    if (open) {
      row.trouble = "a quoted cell is never closed; check the quotation marks of this line";
    } else if (row.text.find('\0') != std::string_view::npos) {
      row.trouble = "the row holds NUL bytes; save the table as CSV in UTF-8 (not UTF-16)";
    }
    if (const char named = row.line == 1 ? separator_named_in(row.text) : '\0'; named != '\0') {
      separator_ = separators.find(named) != std::string_view::npos ? named : '\0';
      continue;
    }
    if (row.text.find_first_not_of(" \t,;") != std::string_view::npos) {
      if (separator_ == 0) {
        separator_ = separator_of(row.text);
      }
      return true;
    }
  }
  return false;
}

namespace
{

// Takes the quotes out of the cell that begins with one at `from`; returns the end of what is left of it, and sets
// `from` behind the whole cell.
char* unquoted(char*& from, char* end, char separator)
{
  char* to = from;
  bool quoted = true;
  char* at = from + 1;
  for (; at < end && (quoted || *at != separator); ++at) {
    if (quoted && *at == '"') {
      if (at + 1 < end && at[1] == '"') {
        *to++ = *at++;
      } else {
        quoted = false;
      }
    } else {
      *to++ = *at;
    }
  }
  from = at;
  return to;
}

}  // namespace

std::size_t split_row(char* text, std::size_t length, char separator, std::vector<std::string_view>& cells,
                      std::size_t most)
{
  cells.clear();
  char* at = text;
  char* const end = text + length;
  while (true) {
    char* begin = at;
    while (begin < end && *begin == ' ') {
      ++begin;
    }
    char* cell_end = nullptr;
    if (begin < end && *begin == '"') {
      at = begin;
      cell_end = unquoted(at, end, separator);
    } else {
      begin = at;
      at = std::find(begin, end, separator);
      cell_end = at;
    }
    cells.emplace_back(begin, static_cast<std::size_t>(cell_end - begin));
    if (at >= end) {
      return cells.size();
    }
    ++at;
    if (cells.size() == most) {
      return most + 1 + static_cast<std::size_t>(std::count(at, end, separator));
    }
  }
}

void append_cell(std::string& row, std::string_view cell, char separator)
{
  const bool plain = std::none_of(cell.begin(), cell.end(),
                                  [=](char c) { return c == '"' || c == separator || c == '\n' || c == '\r'; });
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
