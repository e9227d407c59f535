#include "bilancetta/carry_on.hpp"

#include <sstream>

#include "support.hpp"

using namespace bilancetta;

TEST_CASE("only whole rows count, wherever the file was cut", "[carry_on]")
{
  const std::vector<std::string> rows = {"piece,note", "a,plain", "b,\"two\nlines, \"\"so\"\" called\"", "c,",
                                         "d,\"\n\n\""};
  std::string file;
  std::vector<std::size_t> ends;
  for (const std::string& row : rows) {
    file += row + '\n';
    ends.push_back(file.size());
  }
  for (std::size_t cut = 0; cut <= file.size(); ++cut) {
    INFO("cut after " << cut << " bytes");
    std::istringstream part(file.substr(0, cut));
    const DoneBefore done = done_before_in(part, false);
    std::size_t whole = 0;
    while (whole < ends.size() && ends[whole] <= cut) {
      ++whole;
    }
    CHECK(done.bytes == (whole == 0 ? 0 : ends[whole - 1]));
    CHECK(done.header == (whole == 0 ? "" : rows[0]));
    CHECK(done.rows == (whole < 2 ? 0 : static_cast<long>(whole) - 1));
    CHECK(done.last_row == (whole < 2 ? "" : rows[whole - 1]));
  }
}

TEST_CASE("the first byte tells JSON from a CSV whose rows begin like it", "[carry_on]")
{
  const auto first = [](const std::string& file, bool json) {
    std::istringstream part(file);
    return done_before_in(part, json).first;
  };
  for (const bool json : {false, true}) {
    CHECK(first("", json) == '\0');
    CHECK(first("piece,note\n{a,b\n", json) == 'p');
    CHECK(first("{\"piece\":\"5\\\" spoon\"}\n", json) == '{');
  }
}

TEST_CASE("with JSON every line is a row, whatever quotes it holds", "[carry_on]")
{
  const std::string file = "{\"piece\":\"5\\\" spoon\"}\n{\"piece\":\"b\"}\n{\"pie";
  std::istringstream part(file);
  const DoneBefore done = done_before_in(part, true);
  CHECK(done.rows == 2);
  CHECK(done.bytes == file.rfind('\n') + 1);
  CHECK(done.header.empty());
  CHECK(done.last_row == "{\"piece\":\"b\"}");
}
