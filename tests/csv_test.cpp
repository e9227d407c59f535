#include "csv.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <random>
#include <sstream>

#include "support.hpp"

using namespace bilancetta;
using namespace testing;

namespace
{

using Cells = std::vector<std::string>;

struct SplitRow {
  Cells cells;
  long line;
  std::string trouble;
};

// A stream that never has more than a few bytes at hand, as a pipe may.
class Trickle : public std::streambuf
{
 public:
  Trickle(std::string text, std::size_t at_once) : text_(std::move(text)), at_once_(at_once) {}

 protected:
  int_type underflow() override
  {
    if (given_ == text_.size()) {
      return traits_type::eof();
    }
    const std::size_t now = std::min(at_once_, text_.size() - given_);
    setg(text_.data() + given_, text_.data() + given_, text_.data() + given_ + now);
    given_ += now;
    return traits_type::to_int_type(*gptr());
  }

 private:
  std::string text_;
  std::size_t at_once_, given_ = 0;
};

std::vector<SplitRow> rows_of(const std::string& text, std::size_t at_once = std::string::npos)
{
  Trickle source(text, at_once);
  std::istream in(&source);
  CsvReader reader(in);
  std::vector<SplitRow> rows;
  for (CsvReader::Row row; reader.next(row);) {
    std::string copy(row.text);
    std::vector<std::string_view> cells;
    split_row(copy.data(), copy.size(), reader.separator(), cells);
    rows.push_back({Cells(cells.begin(), cells.end()), row.line, std::string(row.trouble)});
  }
  CHECK(reader.bytes() == text.size());
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
    INFO("separator " << separator);
    std::string text = "a,b,c\n1,2,3\n";
    std::replace(text.begin(), text.end(), ',', separator);
    const auto rows = rows_of(text);
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
  const std::string mark = "\xEF\xBB\xBF";
  const std::vector<std::string> texts = {"a,b\n1,2\n", "a,b\r\n1,2\r\n", "a,b\n1,2", mark + "a,b\n1,2\n",
                                          mark + "a,b\r\n1,2"};
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

  const auto open_quote = rows_of("a,b\n\"never closed,1\n");
  REQUIRE(open_quote.size() == 2);
  CHECK(contains(open_quote[1].trouble, "quot"));
}

// Else one mark too many takes the rows up to the next mark for the inside of a cell.
TEST_CASE("quotes that do not pair up spoil their own line only", "[csv]")
{
  const auto rows = rows_of("a,b\n\"x,1\ny,2\nz,3\n\"u\",4\nv,5\n");
  REQUIRE(rows.size() == 6);
  CHECK(contains(rows[1].trouble, "quot"));
  for (const int good : {2, 3, 4, 5}) {
    CHECK(rows[good].trouble.empty());
  }
  CHECK(rows[2].cells == Cells{"y", "2"});
  CHECK(rows[4].cells == Cells{"u", "4"});
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

TEST_CASE("the pieces in which a stream arrives change nothing", "[csv]")
{
  const std::string text =
      "\xEF\xBB\xBFname,note\r\n\r\na,\"one\r\ntwo\"\r\nb,\"say \"\"ah\"\", twice\"\n\"open,1\nc,\r\n\nd,last";
  const auto whole = rows_of(text);
  REQUIRE(whole.size() == 6);
  CHECK(whole[1].cells == Cells{"a", "one\r\ntwo"});
  CHECK(whole[2].cells == Cells{"b", "say \"ah\", twice"});
  CHECK(whole[3].line == 6);
  CHECK_FALSE(whole[3].trouble.empty());
  CHECK(whole[5].line == 9);
  for (std::size_t at_once = 1; at_once < 20; ++at_once) {
    INFO(at_once << " bytes at once");
    const auto rows = rows_of(text, at_once);
    REQUIRE(rows.size() == whole.size());
    for (std::size_t i = 0; i < rows.size(); ++i) {
      CHECK(rows[i].cells == whole[i].cells);
      CHECK(rows[i].line == whole[i].line);
      CHECK(rows[i].trouble == whole[i].trouble);
    }
  }
}

TEST_CASE("old line ends alone end a row", "[csv]")
{
  const auto rows = rows_of("a,b\r1,2\r3,4", 2);
  REQUIRE(rows.size() == 3);
  CHECK(rows[2].cells == Cells{"3", "4"});
  CHECK(rows[2].line == 3);
}

TEST_CASE("a row with NUL bytes, as UTF-16 has them, is no row", "[csv]")
{
  const auto rows = rows_of(std::string("a,b\n1\0,2\n3,4\n", 13));
  REQUIRE(rows.size() == 3);
  CHECK(contains(rows[1].trouble, "UTF-16"));
  CHECK(rows[2].trouble.empty());
}

TEST_CASE("only so many cells are split off as are wanted, and all are counted", "[csv]")
{
  std::string text(1000000, ',');
  std::vector<std::string_view> cells;
  CHECK(split_row(text.data(), text.size(), ',', cells) == 1000001);
  CHECK(cells.size() == most_columns);
  std::string row = "1,2,3,4";
  CHECK(split_row(row.data(), row.size(), ',', cells, 2) == 4);
  CHECK(cells == std::vector<std::string_view>{"1", "2"});
}

// The rules of RFC 4180 written once more, character by character, for texts made of its special characters.
TEST_CASE("random texts are split as the rules of RFC 4180 say", "[csv]")
{
  std::mt19937 random(20240601);
  for (int round = 0; round < 3000; ++round) {
    std::vector<Cells> table(1 + random() % 4);
    std::string text;
    for (Cells& row : table) {
      row.resize(1 + random() % 4);
      for (std::size_t i = 0; i < row.size(); ++i) {
        for (std::size_t n = random() % 5; n > 0; --n) {
          row[i] += "a,\"\n\rb 1"[random() % 8];
        }
        row[i] = (i == 0 ? "x" : "") + row[i];  // a blank row is none, and a name never begins with a mark
        text += i > 0 ? "," : "";
        text += '"';
        for (const char c : row[i]) {
          text += c == '"' ? "\"\"" : std::string(1, c);
        }
        text += '"';
      }
      text += random() % 2 == 0 ? "\n" : "\r\n";
    }
    const auto rows = rows_of("h,h\n" + text, 1 + random() % 30);
    INFO(text);
    REQUIRE(rows.size() == table.size() + 1);
    for (std::size_t i = 0; i < table.size(); ++i) {
      CHECK(rows[i + 1].cells == table[i]);
    }
  }
}

TEST_CASE("a first line that names the separator is passed over, and counts as a line", "[csv]")
{
  for (const char* end : {"\n", "\r\n", "\r"}) {
    for (const std::size_t at_once : {std::size_t{1}, std::string::npos}) {
      const auto rows = rows_of(fmt::format("\xEF\xBB\xBFsep=;{0}a,b;\"c,d,e\"{0}1,5;2{0}", end), at_once);
      REQUIRE(rows.size() == 2);
      CHECK(rows[0].cells == Cells{"a,b", "c,d,e"});
      CHECK(rows[0].line == 2);
      CHECK(rows[1].cells == Cells{"1,5", "2"});
      CHECK(rows[1].line == 3);
    }
  }
  CHECK(rows_of("Sep=,\na,b;c;d\n").at(0).cells == Cells{"a", "b;c;d"});
  CHECK(rows_of("SEP=\t\na\tb\n").at(0).cells == Cells{"a", "b"});
  // One that is not understood leaves the choice to the next row.
  CHECK(rows_of("sep=|\na;b\n").at(0).cells == Cells{"a", "b"});
  CHECK(rows_of("sep=;").empty());
  // Nowhere but in the first line, and nothing else on it.
  CHECK(rows_of("a,b\nsep=;\n").size() == 2);
  CHECK(rows_of("sep=,,\n").at(0).cells == Cells{"sep=", "", ""});
  CHECK(rows_of("sep=;x\n").size() == 1);
}
