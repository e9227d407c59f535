#include "csv.hpp"

#include <sstream>

#include "support.hpp"

using namespace bilancetta;
using namespace testing;

namespace
{

using Cells = std::vector<std::string>;

std::vector<CsvReader::Row> rows_of(const std::string& text)
{
  std::istringstream in(text);
  CsvReader reader(in);
  std::vector<CsvReader::Row> rows;
  for (CsvReader::Row row; reader.next(row);) {
    rows.push_back(row);
  }
  return rows;
}

Cells first_row(const std::string& text)
{
  const auto rows = rows_of(text);
  REQUIRE_FALSE(rows.empty());
  return rows.front().cells;
}

}  // namespace

TEST_CASE("comma, semicolon and tab are found from the first line", "[csv]")
{
  for (const char separator : {',', ';', '\t'}) {
    const std::string s(1, separator);
    INFO("separator " << s);
    const auto rows = rows_of("a" + s + "b" + s + "c\n1" + s + "2" + s + "3\n");
    REQUIRE(rows.size() == 2);
    CHECK(rows[0].cells == Cells{"a", "b", "c"});
    CHECK(rows[1].cells == Cells{"1", "2", "3"});
  }
  // With a semicolon between cells a comma belongs to the number.
  const auto rows = rows_of("dry_g;rise_g\n5,00;0,48\n");
  CHECK(rows[1].cells == Cells{"5,00", "0,48"});
  CHECK(first_row("only\n1\n") == Cells{"only"});
}

TEST_CASE("a mark, either line end and a missing last line end make no difference", "[csv]")
{
  const std::vector<std::string> texts = {"a,b\n1,2\n", "a,b\r\n1,2\r\n", "a,b\n1,2",
                                          "\xEF\xBB\xBF"
                                          "a,b\n1,2\n",
                                          "\xEF\xBB\xBF"
                                          "a,b\r\n1,2"};
  for (const std::string& text : texts) {
    INFO(text);
    const auto rows = rows_of(text);
    REQUIRE(rows.size() == 2);
    CHECK(rows[0].cells == Cells{"a", "b"});
    CHECK(rows[1].cells == Cells{"1", "2"});
    CHECK(rows[1].line == 2);
  }
}

TEST_CASE("quoted cells may hold separators, quotes and line ends", "[csv]")
{
  CHECK(first_row("\"a,b\",c\n") == Cells{"a,b", "c"});
  CHECK(first_row("\"say \"\"ah\"\"\",c\n") == Cells{"say \"ah\"", "c"});
  CHECK(first_row("\"\",c\n") == Cells{"", "c"});
  CHECK(first_row("a,\"two\nlines\",c\n") == Cells{"a", "two\nlines", "c"});
  // A quote inside an unquoted cell is only a character.
  CHECK(first_row("5\" spoon,c\n") == Cells{"5\" spoon", "c"});
}

TEST_CASE("rows after a quoted line end keep their line numbers", "[csv]")
{
  const auto rows = rows_of("a,b\n\"x\ny\nz\",1\n2,3\n");
  REQUIRE(rows.size() == 3);
  CHECK(rows[1].line == 2);
  CHECK(rows[1].cells == Cells{"x\ny\nz", "1"});
  CHECK(rows[2].line == 5);
}

TEST_CASE("blank lines are passed over, empty cells are not", "[csv]")
{
  const auto rows = rows_of("\n  \na,b\n\n1,\n\n,2\n");
  REQUIRE(rows.size() == 3);
  CHECK(rows[0].cells == Cells{"a", "b"});
  CHECK(rows[1].cells == Cells{"1", ""});
  CHECK(rows[2].cells == Cells{"", "2"});
}

TEST_CASE("an empty stream has no row", "[csv]")
{
  CHECK(rows_of("").empty());
  CHECK(rows_of("\n\n").empty());
  CHECK(rows_of("\xEF\xBB\xBF").empty());
}

TEST_CASE("a row that cannot be used says why, and the next one is read", "[csv]")
{
  const std::string endless(CsvReader::longest_row + 10, 'x');
  const auto too_long = rows_of("a,b\n" + endless + ",1\n2,3\n");
  REQUIRE(too_long.size() == 3);
  CHECK_FALSE(too_long[1].trouble.empty());
  CHECK(too_long[2].trouble.empty());
  CHECK(too_long[2].cells == Cells{"2", "3"});

  const auto too_wide = rows_of("a,b\n" + std::string(CsvReader::most_columns + 5, ',') + "1\n2,3\n");
  REQUIRE(too_wide.size() == 3);
  CHECK_FALSE(too_wide[1].trouble.empty());
  CHECK(too_wide[2].trouble.empty());

  const auto open_quote = rows_of("a,b\n\"never closed,1\n");
  REQUIRE(open_quote.size() == 2);
  CHECK(contains(open_quote[1].trouble, "quot"));
}

TEST_CASE("a cell that was written is read back as it was", "[csv]")
{
  for (const std::string cell : {"plain", "", "a,b", "say \"ah\"", "two\nlines", "\"", "a;b", " blanks "}) {
    for (const char separator : {',', ';'}) {
      INFO("cell " << cell << ", separator " << separator);
      std::string line = std::string("first") + separator + "second" + separator;
      append_cell(line, cell, separator);
      const Cells cells = first_row(line + "\n");
      REQUIRE(cells.size() == 3);
      CHECK(cells[2] == cell);
    }
  }
}
