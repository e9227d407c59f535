#include "bilancetta/batch.hpp"

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cmath>
#include <map>
#include <set>
#include <sstream>
#include <thread>

#include "batch_row.hpp"
#include "csv.hpp"
#include "limited_memory.hpp"
#include "limited_threads.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;

namespace
{

struct Worked {
  BatchResult result;
  std::string text;
  std::vector<std::string> header;
  std::vector<std::map<std::string, std::string>> rows;
};

Worked run(const std::string& csv, const BatchOptions& options = {})
{
  std::istringstream in(csv);
  std::ostringstream out;
  Worked worked;
  worked.result = run_batch(built_in_tables(), options, in, out);
  worked.text = out.str();
  if (options.json) {
    return worked;
  }
  std::istringstream back(worked.text);
  CsvReader reader(back);
  for (CsvReader::Row row; reader.next(row);) {
    std::string copy(row.text);
    std::vector<std::string_view> split;
    split_row(copy.data(), copy.size(), ',', split);
    if (worked.header.empty()) {
      worked.header.assign(split.begin(), split.end());
      continue;
    }
    REQUIRE(split.size() == worked.header.size());
    std::map<std::string, std::string> cells;
    for (std::size_t i = 0; i < split.size(); ++i) {
      cells[worked.header[i]] = split[i];
    }
    worked.rows.push_back(cells);
  }
  return worked;
}

// Of a test at the bench, not of a weighing.
bool is_bench_test(const std::string& key)
{
  const std::vector<BenchTest>& tests = built_in_tables().tests;
  return std::any_of(tests.begin(), tests.end(), [&](const BenchTest& test) { return test.key == key; });
}

Refusal refused(const std::string& csv)
{
  return refusal_of([&] { run(csv); });
}

// Pieces of many densities, places and answers.
std::string many_rows(int count)
{
  const char* places[] = {"breaker", "relay", "tableware", "coins", "", "unknown"};
  const char* magnets[] = {"", "none", "weak", ""};
  std::string csv = "piece,dry_g,rise_g,found,magnet,note\n";
  for (int i = 0; i < count; ++i) {
    const double dry = 1.0 + 0.37 * (i % 17);
    const double density = 7.0 + 0.61 * (i % 19);
    csv += "p" + std::to_string(i) + "," + std::to_string(dry).substr(0, 5) + "," +
           std::to_string(dry / density).substr(0, 5) + "," + places[i % 6] + "," + magnets[i % 4] + ",n" +
           std::to_string(i) + "\n";
  }
  return csv;
}

// The same rows as JSON, one object for each line.
std::vector<nlohmann::json> objects_in(const std::string& text)
{
  std::istringstream lines(text);
  std::vector<nlohmann::json> objects;
  for (std::string line; std::getline(lines, line);) {
    objects.push_back(nlohmann::json::parse(line));
  }
  return objects;
}

std::vector<nlohmann::json> objects_of(const std::string& csv, BatchOptions options = {})
{
  options.json = true;
  return objects_in(run(csv, options).text);
}

// The key of the first step of a verdict that is a bench test, as a row's `next` has it; empty if there is none.
std::string bench_test_of(const nlohmann::json& verdict)
{
  const nlohmann::json& next = verdict.at("next");
  const auto test = std::find_if(next.begin(), next.end(), [](const auto& step) {
    return is_bench_test(step.at("key").template get<std::string>());
  });
  return test == next.end() ? "" : test->at("key").get<std::string>();
}

}  // namespace

TEST_CASE("one row out for each row in, in order, the same for any number of threads", "[batch]")
{
  const std::string csv = many_rows(250);
  BatchOptions options;
  options.threads = 1;
  const Worked one = run(csv, options);
  CHECK(one.result.rows == 250);
  CHECK(one.result.unusable == 0);
  REQUIRE(one.rows.size() == 250);
  for (int i = 0; i < 250; ++i) {
    CHECK(one.rows[i].at("piece") == "p" + std::to_string(i));
    CHECK(one.rows[i].at("note") == "n" + std::to_string(i));
    CHECK(one.rows[i].at("status") != "error");
    const double low = std::stod(one.rows[i].at("density_low"));
    const double high = std::stod(one.rows[i].at("density_high"));
    CHECK(low <= high);
    CHECK(low <= std::stod(one.rows[i].at("density")));
    if (one.rows[i].at("status") == "ok") {
      const double builds = std::stod(one.rows[i].at("solid")) + std::stod(one.rows[i].at("plated")) +
                            std::stod(one.rows[i].at("inlay")) + std::stod(one.rows[i].at("other"));
      CHECK(std::abs(builds - 1.0) < 0.0021);  // four numbers of three decimals
    }
  }
  for (const int threads : {2, 5}) {
    options.threads = threads;
    CHECK(run(csv, options).text == one.text);
  }
}

TEST_CASE("a bad row is reported in its row and the others are done", "[batch]")
{
  const Worked o =
      run("piece,dry_g,rise_g,submerged_g,found,magnet,water_c,note\n"
          "good,5.00,0.48,,,,,first\n"
          "negative,-5.00,0.48,,,,,\n"
          "words,five,0.48,,,,,\n"
          "both,5.00,0.48,4.52,,,,\n"
          "neither,5.00,,,,,,\n"
          "mixed-up,5.00,4.52,,,,,\n"
          "moon,5.00,0.48,,moon,,,\n"
          "sticky,5.00,0.48,,,sticky,,\n"
          "hot,5.00,0.48,,,,120,\n"
          "long,5.00,0.48,,,,,x,too many\n"
          "nan,nan,0.48,,,,,\n"
          "short,5.00,0.48\n"
          "last,5.00,0.48,,,,,last\n");
  REQUIRE(o.rows.size() == 13);
  CHECK(o.result.rows == 13);
  CHECK(o.result.unusable == 10);
  for (const std::size_t good : {std::size_t{0}, std::size_t{11}, std::size_t{12}}) {
    CHECK(o.rows[good].at("status") == "ok");
    CHECK(o.rows[good].at("density") == o.rows[0].at("density"));
    CHECK(o.rows[good].at("material") == o.rows[0].at("material"));
  }
  const std::map<std::size_t, std::string> says = {
      {1, "dry_g"},  {2, "five"}, {3, "more than one way"}, {4, "rise"}, {5, "submerged"}, {6, "moon"},
      {7, "sticky"}, {8, "120"},  {9, "9 cells"},           {10, "nan"}};
  for (const auto& [row, word] : says) {
    INFO("row " << row << ": " << o.rows[row].at("message"));
    CHECK(o.rows[row].at("status") == "error");
    CHECK(o.rows[row].at("density").empty());
    CHECK(contains(o.rows[row].at("message"), word));
    CHECK(contains(o.rows[row].at("message"), "line " + std::to_string(row + 2)));
  }
  CHECK(o.rows[12].at("note") == "last");
}

TEST_CASE("blank cells beyond the header cost no row, unless commas may have cut its numbers in two", "[batch]")
{
  const auto statuses = [](const std::string& csv) {
    std::string all;
    for (const auto& row : run(csv).rows) {
      all += row.at("status") + ' ';
    }
    return all;
  };
  CHECK(statuses("piece;dry_g;rise_g\na;12,05;1,16;;\nb;12,05;1,16\nc;12,05;1,16;;x\n") == "ok ok error ");
  CHECK(statuses("piece\tdry_g\trise_g\na\t12.05\t1.16\t \t\n") == "ok ");
  // 12,05 and 1,16 unquoted in a file of commas: 12 g dry and a rise of 5 g are no readings of anybody's.
  CHECK(statuses("piece,dry_g,rise_g,found,note\nb,12,05,1,16,,\n") == "error ");
  // 12,1 g and a rise of 1,2 g before two blank cells must not be read as 12 g and 1 g.
  CHECK(statuses("piece,dry_g,rise_g,note,lot\nb,12,1,1,2,,\n") == "error ");
  // A decimal point shows that commas part cells.
  CHECK(statuses("piece,dry_g,rise_g\na,12.05,1.16,,\nb,12.05,1.16, ,\nc,12.05,1.16,,x\nd,12,1.16,\ne,3,25,\n") ==
        "ok ok error ok error ");
}

TEST_CASE("a scale that was named and shows more than any weight of the file is told of", "[batch]")
{
  const std::string rows = "a,12.05,1.16\nb,3.12,0.30\nc,4.4,0.43\n";
  const auto remarks = [](const std::string& csv, const std::string& scale, const std::string& step) {
    BatchOptions options;
    options.defaults[Field::scale] = scale;
    options.defaults[Field::readability_g] = step;
    return run(csv, options).result.remarks;
  };
  const std::string csv = "piece,dry_g,rise_g\n" + rows;
  for (const auto& [scale, step] : {std::pair{"jeweller", ""}, std::pair{"laboratory", ""}, std::pair{"", "0.001"}}) {
    const std::vector<std::string> told = remarks(csv, scale, step);
    REQUIRE(told.size() == 1);
    CHECK(contains(told[0], "more than 2 decimals"));
  }
  CHECK(remarks(csv, "pocket", "").empty());
  CHECK(remarks(csv + "d,5.001,0.481\n", "jeweller", "").empty());  // spreadsheets drop zeros
  CHECK(remarks("piece,dry_g,rise_g\na,12.05,1.16\nb,3.12,0.30\n", "jeweller", "").empty());
  CHECK(remarks("piece,dry_g,rise_g,scale\na,12.05,1.16,pocket\nb,3.12,0.30,\nc,4.4,0.43,\n", "jeweller", "").empty());
}

TEST_CASE("a header alone gives a header alone", "[batch]")
{
  const Worked o = run("piece,dry_g,rise_g\n");
  CHECK(o.rows.empty());
  CHECK(o.result.rows == 0);
  CHECK(o.result.unusable == 0);
  CHECK(o.header == result_columns());
}

TEST_CASE("a blank for thousands spoils its own row, whatever the blank", "[batch]")
{
  for (const char* blank : {" ", "\u00A0", "\u202F", "\u2009"}) {
    const Worked w = run(fmt::format(
        "piece;dry_g;rise_g\nspoons;1{0}234,50;118,75\nspoon;{0}61,72{0};5,94\nbig;1234,50;118,75\n", blank));
    REQUIRE(w.rows.size() == 3);
    CHECK(w.rows[0].at("status") == "error");
    CHECK(w.rows[0].at("message") ==
          "line 2: dry_g: 1 and 234.50 are no repeats of one reading. If the blank separates thousands, write 1234.50");
    CHECK(w.rows[1].at("status") == "ok");
    CHECK(w.rows[2].at("status") == "ok");
    CHECK(w.result.unusable == 1);
  }
}

TEST_CASE("a file that is no table of weighings is refused whole", "[batch]")
{
  for (const std::string csv : {"", "\n\n", "piece,rise_g\na,0.48\n", "piece,dry_g,rise_g,dry_g\na,5,0.48,5\n",
                                "piece;rise_g\n", "\"dry_g,rise_g\n5,1\n"}) {
    INFO(csv);
    const Refusal r = refused(csv);
    CHECK(r.code == ErrorCode::bad_csv);
    CHECK(contains(r.message, "standard input"));
  }
  CHECK(contains(refused("piece,rise_g\na,0.48\n").message, "dry_g"));
  CHECK(contains(refused("piece,dry_g,rise_g,Dry G\n").message, "Dry G"));
}

TEST_CASE("a first line that names the separator is passed over", "[batch]")
{
  const std::string plain = "piece;dry_g;rise_g\na;5,00;0,48\nb;5,00 g;0,48\n";
  const Worked w = run("sep=;\n" + plain);
  REQUIRE(w.rows.size() == 2);
  CHECK(w.rows[0] == run(plain).rows[0]);
  CHECK(contains(w.rows[1].at("message"), "line 4: dry_g: \"5.00 g\" is not a number"));
  CHECK(contains(refused("sep=;\npiece;rise_g\n").message, "standard input:2: no column dry_g"));
  BatchOptions learning;
  learning.learn = true;
  CHECK(run("sep=;\n" + plain, learning).result.unusable == 1);
}

TEST_CASE("a line that names no known column is quoted", "[batch]")
{
  CHECK(contains(refused("My weighings 2026\n\npiece,dry_g,rise_g\n").message, "this one is \"My weighings 2026\""));
  CHECK(
      contains(refused("\nJar 7;on the shelf\npiece;dry_g;rise_g\n").message,
               "standard input:2: no column dry_g; the first line must name the columns, such as piece, dry_g, rise_g "
               "(see docs/cli.md); this one is \"Jar 7, on the shelf\""));
  CHECK(refused(std::string(100000, 'x') + "\n").message.size() < 300);
  CHECK_FALSE(contains(refused("piece,rise_g\n").message, "this one is"));
}

TEST_CASE("as many threads work as are asked for, also where tables are made", "[batch]")
{
  BatchOptions options;
  options.threads = 1;
  const LimitedThreads counted;
  CHECK(run(many_rows(50), options).result.unusable == 0);
  CHECK(LimitedThreads::started() == 1);
}

TEST_CASE("columns of one name are numbered, so that a header grows no faster than its columns", "[batch]")
{
  const Worked o =
      run("dry_g,rise_g,note,note,note,in_note_3,note" + std::string(2500, ',') + "\n5.00,0.48,1,2,3,4,5\n");
  const std::vector<std::string> carried(o.header.begin() + static_cast<long>(result_columns().size()), o.header.end());
  const std::vector<std::string> first(carried.begin(), carried.begin() + 9);
  CHECK(first ==
        std::vector<std::string>{"note", "in_note", "in_note_2", "in_note_3", "in_note_4", "", "in_", "in_2", "in_3"});
  CHECK(carried.back() == "in_2499");
  CHECK(carried.size() == 2505);
  CHECK(std::set<std::string>(o.header.begin(), o.header.end()).size() == o.header.size());
  CHECK(o.text.find('\n') < 40000);
}

TEST_CASE("columns that mean nothing here are handed through, renamed where they clash", "[batch]")
{
  const Worked o =
      run("status,shelf,piece,dry_g,rise_g,density,note,quoted\nold,A7,a,5.00,0.48,9.9,\"keep, this\",\"say "
          "\"\"ah\"\"\"\n");
  REQUIRE(o.rows.size() == 1);
  CHECK(o.rows[0].at("in_status") == "old");
  CHECK(o.rows[0].at("in_density") == "9.9");
  CHECK(o.rows[0].at("shelf") == "A7");
  CHECK(o.rows[0].at("note") == "keep, this");
  CHECK(o.rows[0].at("quoted") == "say \"ah\"");
  CHECK(o.rows[0].at("status") == "ok");
  // An error row carries them too.
  const Worked bad = run("shelf,dry_g,rise_g\nA7,-1,0.48\n");
  CHECK(bad.rows.at(0).at("shelf") == "A7");
  CHECK(bad.rows.at(0).at("status") == "error");
}

// "Did you mean dry_g?" made milligrams grams (2026-11-30).
TEST_CASE("a column in another unit is told which unit is wanted, not to be renamed", "[batch]")
{
  const std::string message = refused("dry_mg,Rise (mg)\n4210,420\n").message;
  CHECK(contains(message,
                 "\"dry_mg\" is not known and is handed through; weights are wanted in grams: dry_g (divide by "
                 "1000)"));
  CHECK(contains(message,
                 "\"Rise (mg)\" is not known and is handed through; weights are wanted in grams: rise_g (divide "
                 "by 1000)"));
  CHECK_FALSE(contains(message, "did you mean"));
  struct Column {
    const char* name;
    const char* told;
  };
  const Column columns[] = {{"Submerged kg", "grams: submerged_g (multiply by 1000)"},
                            {"holder_oz", "grams: holder_g"},
                            {"rise_ozt", "grams: rise_g"},
                            {"rise_ct", "grams: rise_g"},
                            {"rise_dwt", "grams: rise_g"},
                            {"rise_gr", "grams: rise_g (rename it only if gr means grams, not grains)"},
                            {"submergd_mg", "grams: submerged_g (divide by 1000)"},
                            {"diameter_cm", "millimetres: diameter_mm (multiply by 10)"},
                            {"area_mm2", "square centimetres: area_cm2 (divide by 100)"},
                            {"water_f", "degrees Celsius: water_c (subtract 32, then divide by 1.8)"}};
  for (const Column& column : columns) {
    INFO(column.name);
    const Worked w = run("dry_g,cup_before_g,cup_after_g," + std::string(column.name) + "\n5.00,60.00,60.48,1\n");
    REQUIRE(w.result.remarks.size() == 1);
    CHECK(w.result.remarks[0].ends_with(column.told));
    CHECK(w.result.unusable == 0);
  }
  CHECK(run("dry_g,rise_g,silver_mg,weight_mg,box_ct\n5.00,0.48,1,1,1\n").result.remarks.empty());
}

TEST_CASE("a column that looks misspelt is told of once, whatever its rows hold", "[batch]")
{
  const std::string csv =
      "piece,dry_gram,dry_g,rise,rise_g,status,note,box,densty\na,1,5,1,0.48,s,n,b,1\nb,1,5,1,0.48,s,n,b,1\n";
  BatchOptions options;
  for (const bool json : {false, true}) {
    options.json = json;
    const Worked w = run(csv, options);
    REQUIRE(w.result.remarks.size() == 1);
    CHECK(w.result.remarks[0] == "column \"rise\" is not known and is handed through; did you mean rise_g?");
    CHECK(w.result.unusable == 0);
  }
  CHECK(contains(refused("piece,dry,rise_g\na,5,0.48\n").message, "did you mean dry_g?"));
}

TEST_CASE("semicolons with decimal commas, tabs, a mark and CRLF give the same results", "[batch]")
{
  const std::string comma = run("piece,dry_g,rise_g,water_c\na,5.00,0.48,21.5\nb,4.21 4.22,0.42,\n").text;
  CHECK(run("piece;dry_g;rise_g;water_c\na;5,00;0,48;21,5\nb;4,21 4,22;0,42;\n").text == comma);
  CHECK(run("piece\tdry_g\trise_g\twater_c\na\t5,00\t0,48\t21,5\nb\t4,21 4,22\t0,42\t\n").text == comma);
  CHECK(run("\xEF\xBB\xBFpiece,dry_g,rise_g,water_c\r\na,5.00,0.48,21.5\r\nb,4.21 4.22,0.42,\r\n").text == comma);
  CHECK(run("Piece,Dry G ,RISE_G,water-c\na, 5.00 ,0.48,21.5\nb,4.21 4.22,0.42,\n").text == comma);
}

TEST_CASE("blanks after the commas of the header make no difference", "[batch]")
{
  CHECK(run("piece, dry_g, rise_g\na, 5.00, 0.48\n").rows.at(0).at("status") == "ok");
}

TEST_CASE("a name and a lot keep the comma that is a decimal sign elsewhere", "[batch]")
{
  BatchOptions options;
  options.summary = Summary::json;
  const Worked o = run("piece;dry_g;rise_g;lot\n\"spoon, small\";5,00;0,48;\"shelf, top\"\n", options);
  CHECK(o.rows.at(0).at("piece") == "spoon, small");
  CHECK(o.rows.at(0).at("status") == "ok");
  CHECK(nlohmann::json::parse(o.result.summary).at("lots").at(0).at("lot") == "shelf, top");
}

TEST_CASE("defaults fill blank cells and give way to the row's own", "[batch]")
{
  const std::string csv = "piece,dry_g,rise_g,scale\na,5.00,0.48,\nb,5.00,0.48,laboratory\n";
  const Worked plain = run(csv);
  BatchOptions laboratory;
  laboratory.defaults[Field::scale] = "laboratory";
  const Worked filled = run(csv, laboratory);
  CHECK(filled.rows.at(1) == plain.rows.at(1));
  CHECK(filled.rows.at(0).at("density_low") == plain.rows.at(1).at("density_low"));
  CHECK(filled.rows.at(0).at("density_low") != plain.rows.at(0).at("density_low"));
}

// The library promises this; the program never asks for it.
TEST_CASE("a test among the defaults fills no blank cell", "[batch]")
{
  const std::string csv = "piece,dry_g,rise_g,magnet\na,5.00,0.48,\n";
  BatchOptions with_test;
  with_test.defaults[Field::magnet] = "strong";
  CHECK(run(csv, with_test).text == run(csv).text);
}

TEST_CASE("a piece too light for its scale is a real reading with a lower bound", "[batch]")
{
  const Worked o = run("dry_g,rise_g\n0.05,0.00\n");
  CHECK(o.result.unusable == 0);
  CHECK(o.rows.at(0).at("status") == "ok");
  CHECK_FALSE(o.rows.at(0).at("message").empty());
}

TEST_CASE("readings that no metal gives end in no crash and no confident name", "[batch]")
{
  const Worked o = run("dry_g,rise_g\n32.00,0.00\n1.00,5.00\n50000.00,0.01\n");
  REQUIRE(o.rows.size() == 3);
  for (const auto& row : o.rows) {
    CHECK(row.at("status") != "ok");
  }
}

TEST_CASE("unlike pieces weighed together give their mean density only", "[batch]")
{
  const Worked o = run("dry_g,rise_g,mixed,count\n5.00,0.48,yes,4\n");
  CHECK(o.rows.at(0).at("status") == "ok");
  CHECK_FALSE(o.rows.at(0).at("density").empty());
  CHECK(o.rows.at(0).at("material").empty());
  CHECK(contains(o.rows.at(0).at("message"), "Unlike"));
  CHECK(contains(o.rows.at(0).at("message"), "cadmium"));
}

// 33 g/cm3, nothing displaced, 22.7 g/cm3.
TEST_CASE("unlike pieces heavier than any metal are unexplained, as a single piece is", "[batch]")
{
  const std::string csv = "dry_g,rise_g,mixed\n40.00,1.20,yes\n4.00,0.00,yes\n40.00,1.76,yes\n40.00,4.00,yes\n";
  const Worked o = run(csv);
  REQUIRE(o.rows.size() == 4);
  for (std::size_t i = 0; i < 3; ++i) {
    INFO(o.rows[i].at("message"));
    CHECK(o.rows[i].at("status") == "unexplained");
    CHECK(contains(o.rows[i].at("message"), "heck the tare"));
    CHECK(contains(o.rows[i].at("message"), "cadmium"));
    CHECK_FALSE(contains(o.rows[i].at("message"), "only their mean density"));
  }
  CHECK(o.rows[3].at("status") == "ok");
  BatchOptions options;
  options.json = true;
  std::istringstream lines(run(csv, options).text);
  std::string line;
  for (int i = 0; i < 4; ++i) {
    REQUIRE(std::getline(lines, line));
    const auto json = nlohmann::json::parse(line);
    INFO(line);
    CHECK(json.at("explained") == (i == 3));
    CHECK(contains(line, "heck the tare") == (i < 3));
  }
}

TEST_CASE("a claim on unlike pieces costs no row, and is told to be left open", "[batch]")
{
  const std::string csv = "dry_g,rise_g,mixed,claim\n5.00,0.48,yes,sterling\n5.00,0.48,yes,\n";
  const Worked o = run(csv);
  REQUIRE(o.rows.size() == 2);
  CHECK(o.rows[0].at("status") == "ok");
  CHECK_FALSE(o.rows[0].at("density").empty());
  CHECK(o.rows[0].at("claim_verdict").empty());
  CHECK(contains(o.rows[0].at("message"), "claim cannot be checked"));
  CHECK_FALSE(contains(o.rows[1].at("message"), "claim"));
  BatchOptions options;
  options.json = true;
  CHECK(contains(run(csv, options).text, "claim cannot be checked"));
}

TEST_CASE("grams have no exponent, however many or few", "[batch]")
{
  const Worked o = run("dry_g,rise_g,found\n5200.0,495.0,tableware\n150.00,7.70,jewellery\n0.0021,0.0002,relay\n");
  for (const auto& row : o.rows) {
    for (const char* column : {"silver_g", "silver_g_low", "silver_g_high", "gold_g", "palladium_g", "platinum_g"}) {
      CHECK_FALSE(contains(row.at(column), "e"));
    }
  }
  CHECK_THAT(std::stod(o.rows.at(0).at("silver_g")), Catch::Matchers::WithinRel(4980.0, 0.01));
  CHECK(std::stod(o.rows.at(1).at("gold_g")) > 100.0);
}

TEST_CASE("hollow ware has no grams of silver, which its weight does not tell", "[batch]")
{
  const std::string rows =
      "piece,dry_g,rise_g,found,form\nsolid one,32.000,3.083,tableware,solid\nhollow "
      "one,32.000,3.083,tableware,hollow\n"
      "filled one,32.000,3.083,tableware,filled\n";
  const Worked worked = run(rows);
  for (const char* column : {"silver_g", "silver_g_low", "silver_g_high", "gold_g", "palladium_g", "platinum_g"}) {
    INFO(column);
    CHECK(!worked.rows[0].at(column).empty());
    CHECK(worked.rows[1].at(column).empty());
    CHECK(worked.rows[2].at(column).empty());
  }
  const auto objects = objects_of(rows);
  CHECK(objects.at(0).at("precious_g").contains("Ag"));
  CHECK(objects.at(1).at("precious_g").empty());
  CHECK(objects.at(2).at("precious_g").empty());
}

TEST_CASE("with JSON each row is one object on one line", "[batch]")
{
  BatchOptions options;
  options.json = true;
  const Worked o = run("piece,dry_g,rise_g\na,5.00,0.48\nb,-1,0.48\nc,4.21,0.42\n", options);
  CHECK(o.result.rows == 3);
  CHECK(o.result.unusable == 1);
  const auto objects = objects_in(o.text);
  REQUIRE(objects.size() == 3);
  CHECK(objects[0].at("piece") == "a");
  CHECK(objects[1].at("piece") == "b");
  CHECK(objects[0].at("density").at("value").get<double>() > 9.0);
  CHECK(objects[2].contains("candidates"));
}

TEST_CASE("CSV and JSON put a piece on the same pile, also one that nothing explains", "[batch]")
{
  const std::string csv = "dry_g,rise_g,found\n5.00,0.48,contactor\n4.21,0.42,relay\n10.370,0.530,connector\n";
  const Worked rows = run(csv);
  const auto objects = objects_of(csv);
  REQUIRE(objects.size() == rows.rows.size());
  for (std::size_t i = 0; i < objects.size(); ++i) {
    CHECK(objects[i].at("pile") == rows.rows[i].at("pile"));
  }
  CHECK(rows.rows.at(2).at("status") == "unexplained");
  CHECK(rows.rows.at(2).at("pile") == "cadmium-suspect");  // an unnamed mix may hold it
}

TEST_CASE("a row that nothing explains is given no name", "[batch]")
{
  const Worked o = run("dry_g,rise_g,found\n10.370,0.530,connector\n10.370,0.990,connector\n");
  REQUIRE(o.rows.at(0).at("status") == "unexplained");
  REQUIRE(o.rows.at(1).at("status") == "ok");
  for (const char* column : {"material", "build", "over", "probability"}) {
    CHECK(o.rows[0].at(column).empty());
  }
  CHECK_FALSE(o.rows[1].at("material").empty());
  CHECK(contains(o.rows[0].at("message"), "Nothing in the tables explains this density."));
}

// A row finds contradictions by a bound and by odds looked up once, a single piece without the bound.
TEST_CASE("CSV and JSON name the same contradictions", "[batch]")
{
  const std::string csv =
      "dry_g,rise_g,found,magnet,skin_reagent,notch_reagent,sides,conductivity_iacs,readability_g\n"
      "5.00,0.485,contactor,no-pull,bright-red,no-reaction,,,\n"
      "5.00,0.485,contactor,no-pull,bright-red,red,alike,,\n"
      "5.00,0.485,contactor,strong,bright-red,red,alike,,\n"
      "5.00,0.560,relay,strong,no-reaction,,differ,,\n"
      "3.10,0.364,connector,no-pull,,,,98,\n"
      "3.10,0.300,,weak,bright-red,green,alike,7,\n"
      "2.00,0.294,dental,strong,,,,28.7,0.01\n"
      "2.00,0.140,motor,,,,,59.7,0.01\n";
  const Worked rows = run(csv);
  const auto objects = objects_of(csv);
  REQUIRE(objects.size() == rows.rows.size());
  int named = 0;
  for (std::size_t i = 0; i < objects.size(); ++i) {
    const auto& json = objects[i];
    const auto& row = rows.rows[i];
    CHECK(json.at("pile") == row.at("pile"));
    std::string all;
    for (const auto& conflict : json.at("conflicts")) {
      all += (all.empty() ? "" : " ") + conflict.get<std::string>() + ".";
      ++named;
    }
    CHECK(row.at("message").substr(0, all.size()) == all);
    CHECK((row.at("message").find("contradict each other") != std::string::npos) ==
          (all.find("contradict each other") != std::string::npos));
  }
  CHECK(named >= 6);
  CHECK(rows.rows.at(1).at("message").empty());
}

// A row finds the next test by odds looked up once for all rows, a single piece by the odds of all answers together.
TEST_CASE("CSV and JSON propose the same test, also a second drop on a metal that was told of", "[batch]")
{
  const std::string csv =
      "dry_g,rise_g,found,magnet,skin_reagent,notch_reagent,sides,skin_colour\n"
      "5.000,0.485,contactor,no-pull,,dark-red,,grey\n"
      "5.000,0.485,relay,strong,,red,alike,grey\n"
      "5.000,0.590,breaker,no-pull,dark-red,no-reaction,differ,copper\n"
      "5.000,0.560,switch,,brown,brown,differ,white\n"
      "3.100,0.364,board,weak,red,red,alike,copper\n"
      "8.000,0.800,contactor,no-pull,green,green,differ,white\n"
      "3.100,0.300,,,bright-red,,,\n";
  const Worked rows = run(csv);
  const auto objects = objects_of(csv);
  REQUIRE(objects.size() == rows.rows.size());
  for (std::size_t i = 0; i < objects.size(); ++i) {
    INFO(objects[i]);
    REQUIRE(!bench_test_of(objects[i]).empty());
    CHECK(rows.rows[i].at("next") == bench_test_of(objects[i]));
  }
}

// A file makes dust (OSHA 29 CFR 1910.1027 counts that as exposure to cadmium); the first row is a cadmium suspect, the
// second may be tooth filling, which is half mercury.
TEST_CASE("a row proposes no file where its dust would harm", "[batch]")
{
  BatchOptions options;
  options.defaults[Field::wetting] = "soaped";
  options.verdict.marks = Marks::always;
  const Worked o =
      run("dry_g,rise_g,found,magnet,skin_colour,sides\n"
          "5.000,0.490,contactor,no-pull,,\n"
          "2.31,0.21,dental,none,grey,alike\n",
          options);
  REQUIRE(contains(o.rows.at(0).at("cautions"), "cadmium"));
  REQUIRE(contains(o.rows.at(1).at("cautions"), "mercury"));
  for (const auto& row : o.rows) {
    INFO(row.at("next"));
    REQUIRE(is_bench_test(row.at("next")));
    CHECK_FALSE(files(test_called(built_in_tables(), row.at("next"))));
  }
}

TEST_CASE("a row proposes nothing that marks for coins, jewellery, tableware and teeth unless it is allowed", "[batch]")
{
  std::string csv = "dry_g,rise_g,found,form,magnet,wetting\n";
  for (const char* place : {"coins", "jewellery", "tableware", "dental"}) {
    for (const char* rise : {"0.450", "0.490", "0.560", "0.590", "0.640"}) {
      csv += std::string("5.000,") + rise + "," + place + ",solid,no-pull,soaped\n";
    }
  }
  const auto marking = [&](Marks marks) {
    BatchOptions options;
    options.verdict.marks = marks;
    const Worked o = run(csv, options);
    return std::count_if(o.rows.begin(), o.rows.end(), [](const auto& row) {
      return is_bench_test(row.at("next")) && test_called(built_in_tables(), row.at("next")).marks;
    });
  };
  CHECK(marking(Marks::by_place) == 0);
  CHECK(marking(Marks::never) == 0);
  CHECK(marking(Marks::always) > 0);
}

// From a probability of 2 % on (docs/method.md, section 13); hazards of the place have none and stand in no row.
TEST_CASE("a row's cautions are those of JSON that have a probability of 2 % or more", "[batch]")
{
  std::string csv = "dry_g,rise_g,found,wetting\n";
  for (const char* place : {"relay", "contactor", "connector", "tableware"}) {
    for (const char* rise : {"0.260", "0.440", "0.476", "0.485", "0.510", "0.560", "0.605", "0.690"}) {
      csv += std::string("5.000,") + rise + "," + place + ",soaped\n";
    }
  }
  const Worked rows = run(csv);
  const auto objects = objects_of(csv);
  REQUIRE(objects.size() == rows.rows.size());
  int below_a_twentieth = 0;
  for (std::size_t i = 0; i < objects.size(); ++i) {
    std::string keys;
    for (const auto& caution : objects[i].at("cautions")) {
      const auto& probability = caution.at("probability");
      if (!probability.is_null() && probability.get<double>() >= 0.02) {
        keys += (keys.empty() ? "" : " ") + caution.at("key").get<std::string>();
        below_a_twentieth += probability.get<double>() < 0.05 ? 1 : 0;
      }
    }
    INFO("row " << i);
    CHECK(rows.rows[i].at("cautions") == keys);
  }
  CHECK(below_a_twentieth > 5);
  // What goes with the silver is warned of all the same where cadmium is plausible.
  CHECK(rows.rows.at(3).at("pile") == "solid-silver");
  CHECK(contains(rows.rows.at(3).at("cautions"), "cadmium"));
}

// No outside source: JSON, which sums over all that is possible. What hardly counts (0.2 % in all) tips the scales
// here: of cadmium at 2.03 %, and of the pile of its suspects at 10.03 %.
TEST_CASE("what hardly counts takes no caution and no pile away", "[batch]")
{
  const std::string csv =
      "dry_g,rise_g,water_c,scale,wetting,found,magnet\n"
      "0.68,0.09,16.2,pocket,,,\n"
      "0.2435,0.0270,,laboratory,soaped,relay,none\n";
  const Worked rows = run(csv);
  const auto objects = objects_of(csv);
  REQUIRE(objects.size() == rows.rows.size());
  for (std::size_t i = 0; i < objects.size(); ++i) {
    CHECK(rows.rows[i].at("pile") == objects[i].at("pile"));
    CHECK(contains(rows.rows[i].at("cautions"), "cadmium"));
  }
  CHECK(rows.rows[1].at("pile") == "cadmium-suspect");
}

// No outside source: JSON, which sums over all that is possible.
TEST_CASE("no silver band of CSV is narrower than that of JSON, in grams neither", "[batch]")
{
  std::string csv = "dry_g,rise_g,scale,found,wetting\n";
  for (const char* place : {"contactor", "tableware", "breaker", "relay"}) {
    for (const char* readings : {"1.836,0.181,jeweller,", "8.0407,1.0090,laboratory,", "0.50,0.05,pocket,"}) {
      csv += std::string(readings) + place + ",soaped\n";
    }
  }
  const Worked rows = run(csv);
  const auto objects = objects_of(csv);
  REQUIRE(objects.size() == rows.rows.size());
  for (std::size_t i = 0; i < objects.size(); ++i) {
    const auto cell = [&](const std::string& column) { return std::stod(rows.rows[i].at(column)); };
    INFO("row " << i);
    const auto& silver = objects[i].at("fractions").at("Ag");
    CHECK(cell("ag_low") < silver.at("low").get<double>() + 0.006);
    CHECK(cell("ag_high") > silver.at("high").get<double>() - 0.006);
    const auto& grams = objects[i].at("precious_g").at("Ag");
    const double few = 0.01 * objects[i].at("mass_g").at("value").get<double>();
    CHECK(cell("silver_g_low") < grams.at("low").get<double>() + few);
    CHECK(cell("silver_g_high") > grams.at("high").get<double>() - few);
  }
}

// No outside source: JSON, which works by other means, proposes the same.
TEST_CASE("a row's next test answers the question that is asked", "[batch]")
{
  const std::string csv = "dry_g,rise_g,found,wetting\n12.000,1.200,coins,soaped\n5.000,0.485,contactor,soaped\n";
  std::set<std::string> proposed;
  for (const Question question : {Question::build, Question::silver, Question::cadmium, Question::precious}) {
    BatchOptions options;
    options.verdict.question = question;
    const Worked rows = run(csv, options);
    const auto objects = objects_of(csv, options);
    REQUIRE(objects.size() == rows.rows.size());
    for (std::size_t i = 0; i < objects.size(); ++i) {
      CHECK(rows.rows[i].at("next") == bench_test_of(objects[i]));
    }
    proposed.insert(rows.rows[0].at("next"));
  }
  CHECK(proposed.size() > 1);
}

// No outside source: JSON, whose numbers are not rounded.
TEST_CASE("CSV holds the builds, the silver and the band of JSON, and no end of a band lies within it", "[batch]")
{
  const std::string csv =
      "dry_g,rise_g,found,sides,skin_reagent,notch_reagent\n"
      "5.000,0.485,contactor,,,\n"
      "5.000,0.536,relay,differ,,\n"
      "10.000,1.130,tableware,,bright-red,green\n"
      "3.12,0.31,breaker,,,\n"
      "2.050,0.250,connector,,bright-red,green\n";
  const Worked rows = run(csv);
  const auto objects = objects_of(csv);
  REQUIRE(objects.size() == rows.rows.size());
  std::map<std::string, double> highest;
  for (std::size_t i = 0; i < objects.size(); ++i) {
    const auto cell = [&](const std::string& column) { return std::stod(rows.rows[i].at(column)); };
    INFO("row " << i);
    for (const char* build : {"solid", "plated", "inlay", "other"}) {
      CHECK(std::abs(cell(build) - objects[i].at("builds").at(build).get<double>()) < 0.001);
      highest[build] = std::max(highest[build], cell(build));
    }
    CHECK(cell("ag_low") <= cell("ag_fraction"));
    CHECK(cell("ag_fraction") <= cell("ag_high"));
    const auto& silver = objects[i].at("fractions").at("Ag");
    // Row 1 holds no silver with 2.5 %, so that its low end hangs on what is left out.
    CHECK(std::abs(cell("ag_low") - silver.at("low").get<double>()) < 0.012);
    CHECK(std::abs(cell("ag_high") - silver.at("high").get<double>()) < 0.01);
    CHECK(cell("density_low") <= objects[i].at("density").at("low").get<double>());
    CHECK(cell("density_high") >= objects[i].at("density").at("high").get<double>());
  }
  for (const char* build : {"solid", "plated", "inlay"}) {
    CHECK(highest[build] > 0.5);
  }
}

// 20.000/2.300 is 8.7, not 8.94, and 20.000/2.235 is.
TEST_CASE("a row says first that the bench is not to be trusted", "[batch]")
{
  const Worked o = run("dry_g,rise_g,reference_density,wetting\n20.000,2.300,8.94,soaped\n20.000,2.235,8.94,soaped\n");
  CHECK(o.rows.at(0).at("message").starts_with("The bench is not to be trusted"));
  CHECK_FALSE(contains(o.rows.at(1).at("message"), "not to be trusted"));
}

TEST_CASE("a row of hollow ware says what cannot be known of it", "[batch]")
{
  const Worked o = run("dry_g,rise_g,form\n30.00,3.50,hollow\n30.00,3.50,filled\n30.00,3.50,solid\n");
  CHECK(contains(o.rows.at(0).at("message"), "its silver cannot be known"));
  CHECK(contains(o.rows.at(1).at("message"), "its silver cannot be known"));
  CHECK_FALSE(contains(o.rows.at(2).at("message"), "cannot be known"));
}

TEST_CASE("the order of rows changes nothing that is said of them", "[batch]")
{
  const std::string coarse = "coarse,5,0.5\n";
  std::string others;
  for (int i = 0; i < 2100; ++i) {
    others += "x,,\n";  // unusable, and so quick
  }
  const Worked first = run("piece,dry_g,rise_g\n" + coarse + others + "fine,5.123,0.480\n");
  const Worked last = run("piece,dry_g,rise_g\nfine,5.123,0.480\n" + others + coarse);
  CHECK(first.rows.front() == last.rows.back());
}

// A name that is not UTF-8, as older spreadsheets write it, must not end the run where JSON is written.
TEST_CASE("a name in another encoding spoils no other row", "[batch]")
{
  BatchOptions options;
  options.json = true;
  options.threads = 1;
  CHECK(run("piece,dry_g,rise_g\na,5.00,0.48\ncaf\xE9,5.00,0.48\n", options).result.rows == 2);
}

// Old line ends are CR alone; were they taken for none, the whole file would be its header.
TEST_CASE("a file with old line ends is read or refused, not passed over", "[batch]")
{
  try {
    CHECK(run("piece,dry_g,rise_g\ra,5.00,0.48\r").result.rows == 1);
  } catch (const Error& error) {
    CHECK(error.code() == ErrorCode::bad_csv);
  }
}

TEST_CASE("a quotation mark left open spoils its own row only", "[batch]")
{
  const Worked o = run("piece,dry_g,rise_g\n\"a,5.00,0.48\nb,5.00,0.48\nc,5.00,0.48\n");
  CHECK(o.result.rows == 3);
}

TEST_CASE("the scale's step is the finest decimal of the file, as spreadsheets drop zeros", "[batch]")
{
  const Worked o = run("dry_g,rise_g\n5,0.5\n5.12,0.48\n");
  const Worked pocket = run("dry_g,rise_g,scale\n5,0.5,pocket\n5.12,0.48,pocket\n");
  CHECK(o.rows.at(0).at("density_low") == pocket.rows.at(0).at("density_low"));
}

// No outside source: naming both scales gives the same. Three numbers hardly lost their last zero all.
TEST_CASE("a column that is coarser than another is of a coarser scale", "[batch]")
{
  const auto band_of = [](const Worked& worked) {
    return worked.rows.at(0).at("density_low") + " " + worked.rows.at(0).at("density_high");
  };
  const std::string rows = "10.123,0.97\n12.347,1.19\n15.552,1.49\n";
  const std::string named = "10.123,0.97,jeweller,pocket\n12.347,1.19,jeweller,pocket\n15.552,1.49,jeweller,pocket\n";
  const Worked typed = run("dry_g,rise_g\n" + rows);
  CHECK(band_of(typed) == band_of(run("dry_g,rise_g,scale,liquid_scale\n" + named)));
  REQUIRE(typed.result.remarks.size() == 1);
  CHECK(contains(typed.result.remarks[0], "two scales"));
  const Worked finer = run("dry_g,rise_g\n" + rows + "11.239,1.083\n");
  CHECK(finer.result.remarks.empty());
  CHECK(band_of(finer) == band_of(run("dry_g,rise_g,scale\n10.123,0.97,jeweller\n")));
  const Worked two = run("dry_g,rise_g\n10.123,0.97\n12.347,1.19\n");
  CHECK(band_of(two) == band_of(finer));
}

TEST_CASE("what another scale read in the liquid says nothing of the dry scale's step", "[batch]")
{
  const auto low = [](const std::string& csv, std::size_t row) { return run(csv).rows.at(row).at("density_low"); };
  const std::string said = low("dry_g,submerged_g,scale,liquid_scale\n5.12,4.6321,pocket,laboratory\n", 0);
  REQUIRE_FALSE(said.empty());
  CHECK(low("dry_g,submerged_g,liquid_scale\n5.12,4.6321,laboratory\n", 0) == said);
  CHECK(low("dry_g,submerged_g,liquid_scale\n5,4.5,\n5.12,4.6321,laboratory\n", 1) == said);
  // Of one scale the step is 0.0001 g.
  CHECK(low("dry_g,submerged_g\n5.12,4.6321\n", 0) != said);
}

// What is no number must not make the scale look finer.
TEST_CASE("a row whose numbers its named scale cannot show says so, in CSV and JSON", "[batch]")
{
  const std::string csv =
      "piece,dry_g,rise_g,scale,mixed\na,5.0013,0.4801,pocket,\nb,5.00,0.48,laboratory,\nc,5.0013,0.4801,,\n"
      "d,5.0013,0.4801,pocket,yes\n";
  const Worked w = run(csv);
  const char* const told = "5.0013 g is no multiple of 0.01 g";
  CHECK(contains(w.rows.at(0).at("message"), told));
  CHECK(w.rows.at(0).at("status") == "ok");
  CHECK_FALSE(contains(w.rows.at(1).at("message"), "scale that was named"));
  CHECK_FALSE(contains(w.rows.at(2).at("message"), "scale that was named"));
  CHECK(contains(w.rows.at(3).at("message"), told));
  BatchOptions options;
  options.json = true;
  const std::string json = run(csv, options).text;
  CHECK(contains(nlohmann::json::parse(json.substr(0, json.find('\n'))).at("warnings").at(0).get<std::string>(), told));
}

TEST_CASE("a spoilt cell does not change what other rows say", "[batch]")
{
  const Worked clean = run("piece,dry_g,rise_g\na,5.00,0.48\n");
  const Worked spoilt = run("piece,dry_g,rise_g\na,5.00,0.48\nb,12.3.4.5.6,0.48\nc,5.00000000g,0.48\n");
  CHECK(spoilt.rows.at(0).at("density_low") == clean.rows.at(0).at("density_low"));
}

TEST_CASE("an interrupted batch goes on where it stopped, and the two halves are the whole", "[batch]")
{
  const std::string csv = "piece,dry_g,rise_g,note\na,5.00,0.48,\"two\nlines\"\nb,-1,0.48,\nc,4.21,0.42,x\n";
  const std::string whole = run(csv).text;
  for (std::size_t cut = 0; cut < whole.size(); cut += 97) {
    INFO("cut after " << cut << " bytes");
    std::istringstream part(whole.substr(0, cut));
    BatchOptions options;
    options.carry_on = done_before_in(part, false);
    std::istringstream in(csv);
    std::ostringstream out;
    const BatchResult result = run_batch(built_in_tables(), options, in, out);
    CHECK(whole.substr(0, options.carry_on->bytes) + out.str() == whole);
    CHECK(result.rows == 3 - options.carry_on->rows);
  }
}

TEST_CASE("going on with another input is refused", "[batch]")
{
  const Worked before = run("piece,dry_g,rise_g,note\na,5.00,0.48,\nb,4.21,0.42,\n");
  std::istringstream part(before.text);
  BatchOptions options;
  options.carry_on = done_before_in(part, false);
  const std::map<std::string, std::string> says = {
      {"piece,dry_g,rise_g,shelf\na,5.00,0.48,\nb,4.21,0.42,\n", "columns"},
      {"piece,dry_g,rise_g,note\na,5.00,0.48,\n", "has 1 rows, but 2"},
      {"piece,dry_g,rise_g,note\na,5.00,0.48,\nc,4.21,0.42,\n", "piece \"c\""}};
  for (const auto& [csv, words] : says) {
    const Refusal r = refusal_of([&, text = csv] { run(text, options); });
    CHECK(r.code == ErrorCode::bad_csv);
    CHECK(contains(r.message, words));
    CHECK(contains(r.message, "--out"));
  }
}

TEST_CASE("asked to stop, a batch writes whole rows from the beginning and says so", "[batch]")
{
  std::string csv = "piece,dry_g,rise_g\n";
  for (int i = 0; i < 5000; ++i) {
    csv += "p" + std::to_string(i) + ",,\n";
  }
  const std::string whole = run(csv).text;
  std::atomic<bool> stop = false;
  long told = 0;
  BatchOptions options;
  options.threads = 3;
  options.stop = &stop;
  options.progress = [&](BatchProgress now) {
    told = now.rows;
    CHECK(now.bytes <= csv.size());
    stop = stop || now.rows > 500;
  };
  std::istringstream in(csv);
  std::ostringstream out;
  const BatchResult result = run_batch(built_in_tables(), options, in, out);
  CHECK(result.stopped);
  CHECK(result.rows == told);
  CHECK(result.rows > 500);
  CHECK(result.rows < 5000);
  const std::string text = out.str();
  CHECK(whole.starts_with(text));
  CHECK(text.ends_with('\n'));
  CHECK(std::count(text.begin(), text.end(), '\n') == result.rows + 1);
}

TEST_CASE("the columns that are understood are handed through when asked", "[batch]")
{
  BatchOptions options;
  options.keep_input = true;
  const std::string csv = "piece,dry_g,rise_g,status,note,note\na,5.00,0.48,old,first,second\n";
  const Worked o = run(csv, options);
  const std::vector<std::string> carried(o.header.begin() + static_cast<long>(result_columns().size()), o.header.end());
  CHECK(carried == std::vector<std::string>{"in_piece", "dry_g", "rise_g", "in_status", "note", "in_note"});
  CHECK(o.rows.at(0).at("dry_g") == "5.00");
  CHECK(o.rows.at(0).at("in_status") == "old");
  CHECK(o.rows.at(0).at("in_note") == "second");
  options.json = true;
  const auto object = nlohmann::json::parse(run(csv, options).text);
  CHECK(object.at("input").at("dry_g") == "5.00");
  CHECK(object.at("input").at("piece") == "a");  // nothing clashes in an object of its own
  CHECK(object.at("input").at("status") == "old");
  CHECK(object.at("input").at("in_note") == "second");
  CHECK_FALSE(object.at("input").contains("in_piece"));
  CHECK(object.contains("density"));
}

TEST_CASE("very long and very wide rows are answered in their own rows", "[batch]")
{
  const std::string note(1000000, 'x');
  const std::string wide(1000000, ',');
  const Worked o = run("piece,dry_g,rise_g,note\na,5.00,0.48," + note + "\nb,5.00,0.48" + wide + "\nc," + note +
                       ",0.48,\nd," + std::string(5U << 20U, '1') + ",0.48,\ne,5.00,0.48,last\n");
  REQUIRE(o.rows.size() == 5);
  CHECK(o.rows[0].at("status") == "ok");
  CHECK(o.rows[0].at("note") == note);
  CHECK(contains(o.rows[1].at("message"), "1000003 cells"));
  CHECK(o.rows[2].at("status") == "error");
  CHECK(o.rows[2].at("message").size() < 600);
  CHECK(contains(o.rows[3].at("message"), "4 MB"));
  CHECK(o.rows[4].at("status") == "ok");
  CHECK(contains(refused("dry_g" + wide + "\n").message, "1000001 columns"));
}

TEST_CASE("names that stand twice, NUL bytes and no line end at the end spoil nothing", "[batch]")
{
  const std::string nul(1, '\0');
  const Worked o =
      run("piece,dry_g,rise_g\na,5.00,0.48\na,4.21,0.42\nb,5.0" + nul + ",0.48\n\xC3(,5.00,0.48\ne,5.00,0.48");
  REQUIRE(o.rows.size() == 5);
  CHECK(o.rows[0].at("piece") == o.rows[1].at("piece"));
  CHECK(o.rows[0].at("density") != o.rows[1].at("density"));
  CHECK(contains(o.rows[2].at("message"), "NUL"));
  CHECK(o.rows[3].at("piece") == "\xC3(");
  CHECK(o.rows[4].at("status") == "ok");
  CHECK(contains(refused(std::string("\xFF\xFEp\0i\0e\0c\0e\0\n\0", 14)).message, "UTF-16"));
}

TEST_CASE("rows come out as soon as the input makes the batch wait", "[batch]")
{
  // A stream that waits, before it gives the next row, until the last one has come out.
  class Asking : public std::streambuf
  {
   public:
    std::atomic<long> seen = 0;
    int late = 0;

   protected:
    int_type underflow() override
    {
      if (given_ == 4) {
        return traits_type::eof();
      }
      for (int waits = 0; seen < given_ - 1; ++waits) {
        if (waits == 500) {
          ++late;
          break;
        }
        std::this_thread::sleep_for(std::chrono::milliseconds(10));
      }
      text_ = given_ == 0 ? "piece,dry_g,rise_g\n" : "p" + std::to_string(given_) + ",,\n";
      ++given_;
      setg(text_.data(), text_.data(), text_.data() + text_.size());
      return traits_type::to_int_type(text_[0]);
    }

   private:
    std::string text_;
    int given_ = 0;
  };
  std::ostringstream out;
  Asking source;
  std::istream in(&source);
  BatchOptions options;
  options.progress = [&](BatchProgress now) { source.seen = now.rows; };
  CHECK(run_batch(built_in_tables(), options, in, out).rows == 3);
  CHECK(source.late == 0);
}

TEST_CASE("want of memory for a row is told in it, and the next one is worked out", "[batch]")
{
  const Tables& tables = built_in_tables();
  const Prepared prepared(tables, Member::Serves::rows, 0);
  const BatchOptions options;
  PieceText text;
  text[Field::dry_g] = "6.124";
  text[Field::rise_g] = "0.612";
  text[Field::found] = "breaker";
  text[Field::claim] = "sterling";
  text[Field::magnet] = "none";
  text[Field::notch_reagent] = "dark-red";
  const ReadRow row{"a", {}, 2, piece_from(tables, text, 3), ""};
  const auto shared_with = [&](BatchContexts& contexts) {
    return BatchShared{options, prepared, contexts, mixture_range_of(tables), std::nullopt, nullptr, nullptr};
  };
  BatchContexts contexts(prepared);
  const std::string whole = result_row(shared_with(contexts), row).text;
  bool refused = true;
  int times = 0;
  for (int after = 0; refused; after += 1 + after / 30, ++times) {
    BatchContexts own(prepared);
    const BatchShared shared = shared_with(own);
    bool told = false;
    {
      const LimitedMemory limited(after);
      try {
        const RowResult result = result_row(shared, row);
        told = !result.usable && contains(result.text, "not enough memory");
      } catch (const std::bad_alloc&) {
        told = true;
      }
      refused = LimitedMemory::refused();
    }
    INFO(after << " requests were granted");
    REQUIRE(told == refused);
    REQUIRE(result_row(shared, row).text == whole);
  }
  CHECK(times > 50);
}
