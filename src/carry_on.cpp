#include "bilancetta/carry_on.hpp"

namespace bilancetta
{

// A cell that holds a line end is quoted and its quotes are doubled, so a line end belongs to a cell just where the
// number of quotes before it in the row is odd. A JSON text holds no line end.
DoneBefore done_before_in(std::istream& part, bool json)
{
  constexpr int end = std::char_traits<char>::eof();
  DoneBefore done;
  std::string row;
  bool quoted = false;
  std::streambuf* buffer = part.rdbuf();
  if (buffer->sgetc() != end) {
    done.first = static_cast<char>(buffer->sgetc());
  }
  for (int c = buffer->sbumpc(); c != end; c = buffer->sbumpc()) {
    quoted = quoted != (c == '"' && !json);
    if (c != '\n' || quoted) {
      row += static_cast<char>(c);
      continue;
    }
    done.bytes += row.size() + 1;
    if (!json && done.header.empty()) {
      done.header.swap(row);
    } else {
      ++done.rows;
      done.last_row.swap(row);
    }
    row.clear();
  }
  return done;
}

}  // namespace bilancetta
