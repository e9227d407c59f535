// Copies a CSV from standard input to standard output with the reader and the writer of the batch and no work between
// them: what reading, splitting and writing cost by themselves.

#include <iostream>
#include <vector>

#include "csv.hpp"

int main()
{
  using namespace bilancetta;
  std::ios::sync_with_stdio(false);
  CsvReader reader(std::cin);
  std::vector<std::string_view> cells;
  std::string text;
  std::string out;
  for (CsvReader::Row row; reader.next(row);) {
    text.assign(row.text);
    split_row(text.data(), text.size(), reader.separator(), cells);
    for (std::size_t i = 0; i < cells.size(); ++i) {
      out += i > 0 ? "," : "";
      append_cell(out, cells[i]);
    }
    out += '\n';
    if (out.size() > (1U << 16U)) {
      std::cout.write(out.data(), static_cast<std::streamsize>(out.size()));
      out.clear();
    }
  }
  std::cout.write(out.data(), static_cast<std::streamsize>(out.size()));
  return std::cout.flush() ? 0 : 1;
}
