#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <set>
#include <sstream>

#include "bilancetta/posterior.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;

namespace
{

std::string text_of(const char* path)
{
  std::ifstream file(std::filesystem::path(BILANCETTA_SOURCE) / path);
  REQUIRE(file);
  return {std::istreambuf_iterator<char>(file), {}};
}

// The line of a text that begins so; fails the test if there is none.
std::string line_that_begins(const std::string& text, const std::string& beginning)
{
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    if (line.starts_with(beginning)) {
      return line;
    }
  }
  FAIL("no line begins with " << beginning);
  return {};
}

// What a text says from some words on to the next full stop, as the keys that it lists.
std::set<std::string> keys_listed(const std::string& text, const std::string& after)
{
  const std::size_t from = text.find(after);
  REQUIRE(from != std::string::npos);
  std::string list = text.substr(from + after.size(), text.find('.', from) - from - after.size());
  std::replace(list.begin(), list.end(), ',', ' ');
  std::istringstream words(list);
  return {std::istream_iterator<std::string>(words), {}};
}

}  // namespace

TEST_CASE("every caution stands in the documents", "[documents]")
{
  const std::string page = text_of("docs/cautions.md");
  std::set<std::string> keys;
  for (const Caution& caution : built_in_tables().cautions) {
    INFO(caution.key);
    const std::string row = line_that_begins(page, "| " + caution.key + " |");
    CHECK(row.starts_with("| " + caution.key + " | " + std::string(name_of(caution.urgency)) + " |"));
    keys.insert(caution.key);
  }
  CHECK(keys_listed(text_of("tables/README.md"), "\nCautions: ") == keys);
}

TEST_CASE("every family and place stands in the tables' own document", "[documents]")
{
  const std::string page = text_of("tables/README.md");
  std::set<std::string> families;
  for (const Material& material : built_in_tables().materials) {
    families.insert(material.group);
  }
  CHECK(keys_listed(page, "\nFamilies (`group`): ") == families);
  std::set<std::string> places;
  for (const Place& place : built_in_tables().places) {
    places.insert(place.key);
  }
  CHECK(keys_listed(page, "\nPlaces: ") == places);
}

TEST_CASE("rows of the tables are counted as they are", "[documents]")
{
  const Tables& t = built_in_tables();
  const std::string page = text_of("docs/tables.md");
  const auto of_file = [&](const std::string& file, const std::string& counted) {
    const std::string line = line_that_begins(page, "| `" + file + "` |");
    INFO(line);
    CHECK(contains(line, counted));
  };
  const auto count = [](std::size_t n, const std::string& what) { return " " + std::to_string(n) + what; };
  of_file("constituents.toml", count(t.constituents.size(), " elements"));
  of_file("departures.toml", count(t.departures.size(), " systems"));
  of_file("departures.toml", count(t.processes.size(), " ways"));
  of_file("places.toml", count(t.places.size(), " places"));
  of_file("tests.toml", count(t.tests.size(), " bench tests"));
  of_file("claims.toml", count(t.claims.size(), " claims"));
  of_file("cautions.toml", count(t.cautions.size(), " cautions"));
  of_file("sources.toml", count(t.sources.size(), " sources"));
  std::map<std::string, std::size_t> of;  // rows of each file
  std::set<std::string> families;
  for (const Material& material : t.materials) {
    ++of[std::filesystem::path(material.origin.file).filename().string()];
    families.insert(material.group);
  }
  CHECK(of.size() == 5);
  for (const auto& [file, rows] : of) {
    of_file(file, count(rows, ":"));
  }
  CHECK(contains(page, "of which there are" + count(families.size(), ";")));
}

TEST_CASE("how sure the rows are is counted as they are", "[documents]")
{
  const Tables& t = built_in_tables();
  const std::string page = text_of("docs/tables.md");
  const auto check = [&](const std::string& what, const auto& rows) {
    std::map<Provenance, std::size_t> of;
    for (const auto& row : rows) {
      ++of[row.origin.provenance];
    }
    std::string line = "| " + what;
    for (const std::size_t n :
         {of[Provenance::looked_up], of[Provenance::common_practice], of[Provenance::no_source_yet], rows.size()}) {
      line += " | " + std::to_string(n);
    }
    CHECK(line_that_begins(page, "| " + what + " | ") == line + " |");
  };
  check("constituents", t.constituents);
  check("departures", t.departures);
  check("processes", t.processes);
  check("materials", t.materials);
  check("builds", t.builds);
  check("places", t.places);
  check("tests", t.tests);
  check("claims", t.claims);
  check("cautions", t.cautions);
}

TEST_CASE("hypotheses are counted as they are", "[documents]")
{
  std::map<Kind, std::size_t> of;
  const Prepared prepared(built_in_tables(), PieceSize{1.0, {}});
  const Members& members = prepared.members_of_any_size();
  for (std::size_t i = 0; i < members.size(); ++i) {
    ++of[members[i]->hypothesis.kind];
  }
  const auto n = [&](Kind kind) { return std::to_string(of[kind]); };
  CHECK(of[Kind::open_mix] == 1);
  CHECK(contains(text_of("docs/method.md"), "The built-in tables make " + std::to_string(members.size()) +
                                                " hypotheses: " + n(Kind::solid) + " solid, " + n(Kind::plated) +
                                                " plated, " + n(Kind::inlay) + " inlaid, " + n(Kind::hollow) +
                                                " hollow, " + n(Kind::joined) + " joined, and the open mix."));
}
