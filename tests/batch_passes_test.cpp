// A sitting, a jar that teaches and the jar's totals, as they come through a batch.

#include "batch_passes.hpp"

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <random>
#include <regex>
#include <sstream>

#include "limited_memory.hpp"
#include "support.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinRel;

namespace
{

struct Worked {
  BatchResult result;
  std::vector<std::vector<std::string>> rows;

  [[nodiscard]] double number(std::size_t row, const std::string& column) const
  {
    const auto& names = result_columns();
    return std::stod(
        rows[row][static_cast<std::size_t>(std::find(names.begin(), names.end(), column) - names.begin())]);
  }
};

// The cells asked for here hold no commas.
Worked run(const std::string& csv, const BatchOptions& options)
{
  std::istringstream in(csv);
  std::ostringstream out;
  Worked worked;
  worked.result = run_batch(built_in_tables(), options, in, out);
  std::istringstream back(out.str());
  std::string line;
  std::getline(back, line);
  while (std::getline(back, line)) {
    std::istringstream cells(line);
    auto& row = worked.rows.emplace_back();
    for (std::string cell; std::getline(cells, cell, ',');) {
      row.push_back(cell);
    }
  }
  return worked;
}

// What a jeweller's scale shows when a piece hangs in a liquid of 0.985 g/cm3.
std::string weighing(const char* name, double dry_g, double density, const std::string& more)
{
  constexpr double air = 0.0012;
  return fmt::format("{},{:.3f},{:.3f},{}\n", name, dry_g, (0.985 - air) * dry_g / (density - air), more);
}

}  // namespace

TEST_CASE("a sitting finds the liquid's density from known pieces", "[batch_passes]")
{
  BatchOptions options;
  options.defaults[Field::liquid_density] = "1.0";
  options.defaults[Field::liquid_density_u] = "0.01";
  options.defaults[Field::wetting] = "sealed";
  std::string csv = "piece,dry_g,rise_g,reference_density,reference_density_u\n";
  csv += weighing("copper", 20.0, 8.960, "8.960,0.005") + weighing("steel", 15.0, 7.850, "7.850,0.005") +
         weighing("brass", 18.0, 8.530, "8.530,0.005") + weighing("unknown", 10.0, 10.490, ",");
  const Worked alone = run(csv, options);
  options.sitting = true;
  options.summary = Summary::json;
  const Worked together = run(csv, options);
  REQUIRE(together.rows.size() == 4);
  // The liquid is off by 1.5 standard uncertainties: alone the density is off by 1.5 % and its band is wide.
  CHECK(alone.number(3, "density") > 10.6);
  CHECK(alone.number(3, "density_high") - alone.number(3, "density_low") > 0.3);
  CHECK(std::abs(together.number(3, "density") - 10.49) < 0.04);
  CHECK(together.number(3, "density_high") - together.number(3, "density_low") < 0.1);
  const auto json = nlohmann::json::parse(together.result.summary);
  CHECK_FALSE(json["remarks"].empty());
}

// 12.05 + 3.12 + 30.10 + 0.84 = 46.11, and so the rises; the last row has a name that says nothing.
TEST_CASE("a summary asks whether a last row that is the sum of the others is a piece", "[batch_passes]")
{
  const std::string pieces = "piece,dry_g,rise_g\nspoon,12.05,1.16\npin,3.12,0.35\nbrass,30.10,3.55\ntip,0.84,0.10\n";
  BatchOptions options;
  options.summary = Summary::json;
  const auto asks = [&](const std::string& last) {
    const auto json = nlohmann::json::parse(run(pieces + last, options).result.summary);
    const auto is_that = [](const auto& remark) { return testing::contains(remark, "all others together"); };
    return std::any_of(json["remarks"].begin(), json["remarks"].end(), is_that);
  };
  CHECK(asks(",46.11,5.16\n"));
  CHECK(asks("all,46.11,5.16\n"));
  CHECK_FALSE(asks("plate,46.31,5.16\n"));
  CHECK_FALSE(asks(""));
}

TEST_CASE("a jar of one material teaches that it is likely, the same for any threads", "[batch_passes]")
{
  std::string csv = "piece,dry_g,rise_g,found\n";
  for (int i = 0; i < 60; ++i) {
    const double dry = 3.0 + 0.031 * i;
    csv += fmt::format("p{},{:.3f},{:.3f},relay\n", i, dry, 0.997 * dry / 10.1);  // as silver-nickel and others weigh
  }
  BatchOptions options;
  options.defaults[Field::wetting] = "sealed";
  const Worked plain = run(csv, options);
  options.learn = true;
  options.summary = Summary::text;
  options.threads = 1;
  const Worked learned = run(csv, options);
  options.threads = 2;
  const Worked again = run(csv, options);
  CHECK(learned.rows == again.rows);
  double before = 0.0;
  double after = 0.0;
  for (std::size_t i = 0; i < 60; ++i) {
    before += plain.number(i, "probability") / 60.0;
    after += learned.number(i, "probability") / 60.0;
  }
  CHECK(after > before + 0.02);
  CHECK(learned.result.summary.find("learned from the jar") != std::string::npos);
  CHECK(learned.result.summary.find("test a few") != std::string::npos);
}

// No row made a test, so none can rest on one.
TEST_CASE("what a jar taught is no test that was made", "[batch_passes]")
{
  std::string csv = "piece,dry_g,rise_g,found\n";
  for (int i = 0; i < 20; ++i) {
    const double dry = 3.0 + 0.031 * i;
    csv += fmt::format("p{},{:.3f},{:.3f},relay\n", i, dry, 0.997 * dry / 8.9);
  }
  for (const bool learn : {false, true}) {
    BatchOptions options;
    options.json = true;
    options.learn = learn;
    std::istringstream in(csv);
    std::ostringstream out;
    run_batch(built_in_tables(), options, in, out);
    const nlohmann::json row = nlohmann::json::parse(out.str().substr(0, out.str().find('\n')));
    const nlohmann::json& parts = row.at("leans_on");
    INFO(row.at("why").dump());
    CHECK(parts.at("tests").get<double>() == 0.0);
    CHECK(parts.contains("jar") == learn);
    CHECK((row.at("why").dump().find("the tests you made") == std::string::npos));
    if (learn) {
      CHECK(parts.at("jar").get<double>() > 0.05);
      CHECK(row.at("why").dump().find("what else is in this jar") != std::string::npos);
      double sum = 0.0;
      for (const auto& part : parts) {
        sum += part.get<double>();
      }
      CHECK_THAT(sum, WithinRel(1.0, 1e-5));
    }
  }
}

TEST_CASE("a JSON row says when the jar has taught it", "[batch_passes]")
{
  BatchOptions options;
  options.json = true;
  for (const bool learn : {false, true}) {
    options.learn = learn;
    std::istringstream in("piece,dry_g,rise_g,found\na,5.000,0.480,relay\n");
    std::ostringstream out;
    run_batch(built_in_tables(), options, in, out);
    const std::string assumed = nlohmann::json::parse(out.str()).at("assumed").dump();
    CHECK(testing::contains(assumed, "learned from the rows of this jar") == learn);
  }
}

// Twenty rows of known pieces, of one piece, or of heaps whose metals nobody knows, are no jar.
TEST_CASE("a jar is not taught by known pieces, unlike heaps, nor by one piece that was weighed again and again",
          "[batch_passes]")
{
  std::string known = "piece,dry_g,rise_g,found,reference_density\np,3.00,0.30,relay,\n";
  std::string heaps = "piece,dry_g,rise_g,found,count,mixed\np,3.00,0.30,relay,1,\n";
  std::string again = "piece,dry_g,rise_g,found\n";
  for (int i = 0; i < 20; ++i) {
    known += "bar,30.00,2.89,relay,10.36\n";
    heaps += "heap,30.00,2.89,relay,5,yes\n";
    again += "x,3.00,0.30,relay\n";
  }
  BatchOptions options;
  const double alone = run(known, options).number(0, "probability");
  options.learn = true;
  CHECK_THAT(run(known, options).number(0, "probability"), WithinRel(alone, 0.02));
  CHECK_THAT(run(heaps, options).number(0, "probability"), WithinRel(alone, 0.02));
  options.sitting = true;
  const Worked taught = run(again, options);
  options.learn = false;
  const Worked plain = run(again, options);
  for (std::size_t row = 0; row < 20; ++row) {
    CHECK(taught.rows[row][5] == plain.rows[row][5]);
    CHECK_THAT(taught.number(row, "probability"), WithinRel(plain.number(row, "probability"), 0.02));
  }
}

// A piece that is weighed again 30 mg off.
TEST_CASE("a row tells what does not fit its sitting, with a summary and without", "[batch_passes]")
{
  const std::string csv =
      "piece,dry_g,rise_g\na,10.000,0.969\nb,12.000,1.152\nc,9.000,0.998\nb,12.000,1.153\na,10.000,0.999\n";
  BatchOptions options;
  const auto told = [&] {
    std::istringstream in(csv);
    std::ostringstream out;
    run_batch(built_in_tables(), options, in, out);
    std::vector<bool> rows;
    std::istringstream back(out.str());
    std::string line;
    if (!options.json) {
      std::getline(back, line);  // the header
    }
    while (std::getline(back, line)) {
      const std::string said =
          options.json ? nlohmann::json::parse(line).at("warnings").dump() : line.substr(line.find('"') + 1);
      rows.push_back(testing::contains(said, "does not fit the rest") && testing::contains(said, "weigh it again"));
    }
    return rows;
  };
  for (const bool json : {false, true}) {
    options.json = json;
    for (const Summary summary : {Summary::none, Summary::text}) {
      options.summary = summary;
      options.sitting = true;
      CHECK(told() == std::vector<bool>{true, false, false, false, true});
    }
    options.sitting = false;
    CHECK(told() == std::vector<bool>(5, false));
  }
}

TEST_CASE("a row lighter than any metal takes no doubt from the jar", "[batch_passes]")
{
  const std::string jar =
      "piece,dry_g,bottle_full_g,bottle_with_piece_g,reference_density,found\na,5.00,25.00,29.50,,\n"
      "r,8.00,25.00,32.10,8.92,\n";
  BatchOptions options;
  options.sitting = true;
  options.summary = Summary::json;
  const auto u = [&](const std::string& csv) {
    return nlohmann::json::parse(run(csv, options).result.summary).at("sitting_u_g").get<double>();
  };
  CHECK(u(jar) > 0.0);
  CHECK(u(jar + "b,1.00,25.00,23.60,,tableware\n") > 0.9 * u(jar));
}

TEST_CASE("a summary judges no jar by prices that leave out what it may hold", "[batch_passes]")
{
  const std::string csv = "dry_g,rise_g,found\n5.230,0.400,jewellery\n40.000,3.870,tableware\n";
  BatchOptions options;
  options.summary = Summary::text;
  options.verdict.prices.per_g["Ag"] = 0.9;
  const std::string silver_only = run(csv, options).result.summary;
  INFO(silver_only);
  CHECK(silver_only.find("gold (0 to") != std::string::npos);
  CHECK(silver_only.find("--price Au=P/g") != std::string::npos);
  CHECK(silver_only.find("bargain") == std::string::npos);
  CHECK(silver_only.find("finest decimals") != std::string::npos);
  options.summary = Summary::json;
  const auto unpriced = nlohmann::json::parse(run(csv, options).result.summary).at("unpriced");
  CHECK(std::find(unpriced.begin(), unpriced.end(), "Au") != unpriced.end());
  for (const char* metal : {"Au", "Pd", "Pt"}) {
    options.verdict.prices.per_g[metal] = 60.0;
  }
  CHECK(nlohmann::json::parse(run(csv, options).result.summary).at("unpriced").empty());
  options.summary = Summary::text;
  CHECK(run(csv, options).result.summary.find("bargain") != std::string::npos);
}

TEST_CASE("a jar holds no known piece, and in a sitting a piece that was weighed again only once", "[batch_passes]")
{
  const std::string csv =
      "piece,dry_g,rise_g,reference_density,found\nbar,100.00,9.53,10.49,\nbar,100.00,9.53,10.49,\n"
      "rivet,6.12,0.61,,relay\nrivet,6.13,0.61,,relay\nspoon,32.10,3.10,,tableware\n";
  BatchOptions options;
  options.summary = Summary::json;
  const auto summary = [&] { return nlohmann::json::parse(run(csv, options).result.summary); };
  const auto apart = summary();  // one name may stand for several pieces
  CHECK(apart.at("pieces") == 3);
  CHECK(apart.at("known_rows") == 2);
  CHECK(apart.at("repeat_rows") == 0);
  options.sitting = true;
  const auto together = summary();
  CHECK(together.at("rows") == 5);
  CHECK(together.at("pieces") == 2);
  CHECK(together.at("known_rows") == 2);
  CHECK(together.at("repeat_rows") == 1);
  CHECK(together.at("mass_g") < 38.5);
  CHECK(together.at("precious_g").at("Ag").at("high") < 38.5);
}

// The coin displaces 4.822 g; the rise of 5.500 g is a slip. Without it the coin may be silver, with it it is brass.
TEST_CASE("a weighing that its sitting threw out is not counted in the jar, whichever row it is", "[batch_passes]")
{
  const std::string known =
      "piece,dry_g,rise_g,reference_density,reference_density_u\nrefA,20.000,2.560,7.80,0.002\n"
      "refB,30.000,3.655,8.20,0.002\n";
  const std::string wrong = "coin,50.000,5.500,,\n";
  const std::string right = "coin,50.001,4.823,,\ncoin,50.000,4.822,,\n";
  BatchOptions options;
  options.sitting = true;
  options.summary = Summary::json;
  const auto summary = [&](const std::string& rows) {
    return nlohmann::json::parse(run(known + rows, options).result.summary);
  };
  const auto first = summary(wrong + right);
  const auto last = summary(right + wrong);
  for (const auto* jar : {&first, &last}) {
    CHECK(jar->at("pieces") == 1);
    CHECK(jar->at("repeat_rows") == 2);
  }
  for (const char* end : {"median", "low", "high"}) {
    INFO(end);
    CHECK_THAT(first.at("precious_g").at("Ag").at(end).get<double>(),
               WithinRel(last.at("precious_g").at("Ag").at(end).get<double>(), 0.02));
  }
  CHECK(first.at("precious_g").at("Ag").at("low") > 20.0);
  // What the jar teaches is not taught by it either.
  options.learn = true;
  const auto learned = summary(wrong + right);
  CHECK_THAT(learned.at("precious_g").at("Ag").at("median").get<double>(),
             WithinRel(summary(right + wrong).at("precious_g").at("Ag").at("median").get<double>(), 0.02));
}

// What a drop of the one reagent says is nothing that a drop of the other says.
TEST_CASE("pieces that answered to different drops are no one kind", "[batch_passes]")
{
  const std::string chromate = "3.112,0.352,connector,green,chromate\n";
  const std::string nitric = "3.112,0.352,connector,green,nitric\n";
  BatchOptions options;
  options.summary = Summary::json;
  const auto kinds = [&](const std::string& rows) {
    const std::string csv = "dry_g,rise_g,found,skin_reagent,reagent\n" + rows;
    return nlohmann::json::parse(run(csv, options).result.summary).at("kinds").get<int>();
  };
  CHECK(kinds(chromate + chromate) == 1);
  CHECK(kinds(chromate + nitric) == 2);
}

// Rows of one lot are the same material: what one of them is suspected of, all are.
TEST_CASE("a lot of which some is a cadmium suspect is told to be kept together", "[batch_passes]")
{
  const std::string alike = "r4,0.412,0.040,relay,no-pull,B\n";
  const std::string csv = "piece,dry_g,rise_g,found,magnet,lot\n" + alike;
  const std::string drawn = "r5,0.402,0.039,relay,weak,B\n";
  BatchOptions options;
  options.summary = Summary::text;
  CHECK(testing::contains(run(csv + drawn, options).result.summary, "Some of it lies"));
  CHECK_FALSE(testing::contains(run(csv + alike, options).result.summary, "Some of it lies"));
  options.summary = Summary::json;
  CHECK(nlohmann::json::parse(run(csv + drawn, options).result.summary)["lots"][0]["partly_cadmium_suspect"] == true);
}

// Fine silver and copper in one lot.
TEST_CASE("a lot whose pieces cannot be one material is told of", "[batch_passes]")
{
  const std::string csv = "piece,dry_g,rise_g,found,lot\na,10.00,0.95,relay,X\nb,100.00,11.17,relay,X\n";
  BatchOptions options;
  options.summary = Summary::text;
  std::string text = run(csv, options).result.summary;
  std::replace(text.begin(), text.end(), '\n', ' ');
  CHECK(testing::contains(text, "Lot X: its pieces do not weigh like one material (8.93 to 10.52 g/cm3)"));
  options.summary = Summary::json;
  const auto lot = nlohmann::json::parse(run(csv, options).result.summary)["lots"][0];
  CHECK_THAT(lot["unlike_density"]["low"].get<double>(), WithinRel(8.94, 0.001));
  CHECK_THAT(lot["unlike_density"]["high"].get<double>(), WithinRel(10.52, 0.001));
}

// Read on a pocket scale, 200 like pieces of 0.2 g scatter from 5 to 20 g/cm3 by chance alone.
TEST_CASE("a lot of like pieces that scatter by chance is not called unlike", "[batch_passes]")
{
  std::mt19937_64 random(7);
  std::normal_distribution<double> noise(0.0, 0.007);  // g; the rounding comes to it
  std::string csv = "dry_g,rise_g,found,lot\n";
  for (const double dry_g : {0.2, 0.4, 1.5, 5.0}) {
    for (int i = 0; i < 200; ++i) {
      csv += fmt::format("{:.2f},{:.2f},breaker,{}\n", dry_g + noise(random), dry_g / 9.9 + noise(random), dry_g);
    }
  }
  BatchOptions options;
  options.summary = Summary::json;
  const auto summary = nlohmann::json::parse(run(csv, options).result.summary);
  REQUIRE(summary["lots"].size() == 4);
  for (const auto& lot : summary["lots"]) {
    INFO(lot.dump());
    CHECK(lot["unlike_density"].is_null());
  }
}

// Two copper weights want a look at both sides, three chips of tableware to be weighed together, which is half as much
// effort again: 2 / 1 equals 3 / 1.5, and the look is easier.
TEST_CASE("a summary proposes by effort", "[batch_passes]")
{
  BatchOptions options;
  options.summary = Summary::json;
  const std::string look = "100.00,11.17,relay\n";
  const std::string pool = "0.30,0.03,tableware\n";
  const auto next = [&](const std::string& rows) {
    return nlohmann::json::parse(run("dry_g,rise_g,found\n" + rows, options).result.summary)["undecided"]["next"];
  };
  CHECK(next(look + look + pool + pool + pool) == "sides");
  CHECK(next(look + look + pool + pool + pool + pool) == "pool");
}

TEST_CASE("the summary counts lots, heaps and what could not be used", "[batch_passes]")
{
  const std::string csv =
      "piece,dry_g,rise_g,count,mixed,lot\n"
      "a,5.000,0.480,1,,buttons\nb,5.010,0.481,1,,buttons\nheap,50.00,5.10,20,yes,\nbad,-1,0.4,1,,\nc,6.000,0.701,3,,"
      "\n";
  BatchOptions options;
  options.summary = Summary::json;
  options.verdict.prices.per_g["Ag"] = 2.0;
  options.verdict.prices.pays = 0.9;
  options.verdict.prices.hours = 2.0;
  const auto json = nlohmann::json::parse(run(csv, options).result.summary);
  INFO(json.dump(1));
  REQUIRE(json["lots"].size() == 1);
  CHECK(json["lots"][0]["lot"] == "buttons");
  CHECK(json["lots"][0]["rows"] == 2);
  CHECK(json["rows"] == 5);
  CHECK(json["unusable_rows"] == 1);
  // The heap is counted apart: anything from no silver to all of it.
  CHECK(json["pieces"] == 5);
  CHECK(json["mass_g"] < 33.0);
  const auto& mixed = json["mixed"];
  CHECK(mixed["pieces"] == 20);
  CHECK_THAT(mixed["mass_g"].get<double>(), WithinRel(50.0, 0.001));
  const auto& heap_silver = mixed["precious_g"]["Ag"];
  CHECK(heap_silver["low"] == 0.0);
  CHECK(heap_silver["high"] > 20.0);
  CHECK(heap_silver["high"] <= mixed["mass_g"]);
  // Silver is all that has a price, and that of the heap is not in it.
  for (const char* end : {"low", "median", "high"}) {
    const double silver_g = json["precious_g"]["Ag"][end];
    CHECK_THAT(json["worth"][end].get<double>(), WithinRel(2.0 * 0.9 * silver_g, 1e-6));
    CHECK_THAT(json["worth_per_hour"][end].get<double>(), WithinRel(0.9 * silver_g, 1e-6));
  }
  CHECK_THAT(json["metal_price"].get<double>(),
             WithinRel(2.0 * json["precious_g"]["Ag"]["median"].get<double>(), 1e-6));
  CHECK(json["worth"]["median"] > 1.0);
  options.json = true;
  CHECK(nlohmann::json::parse(run(csv, options).result.summary)["lots"] == json["lots"]);
}

// Of what no mixture weighs nothing bounds the silver; hollow ware has no weight that bounds it.
TEST_CASE("heaps that nothing explains are no mixture to be bounded", "[batch_passes]")
{
  BatchOptions options;
  options.summary = Summary::json;
  const auto summary = [&](const std::string& rows) {
    return nlohmann::json::parse(run("dry_g,rise_g,count,mixed,form\n" + rows, options).result.summary);
  };
  const auto heavy = summary("40.00,1.20,3,yes,\n40.00,1.76,2,yes,\n");
  CHECK(heavy["mixed"].is_null());
  CHECK(heavy["unfitting_pieces"] == 5);
  const auto both = summary("40.00,1.20,3,yes,\n30.00,2.89,4,yes,\n");
  CHECK(both["unfitting_pieces"] == 3);
  CHECK(both["mixed"]["pieces"] == 4);
  CHECK(both["mixed"]["precious_g"]["Ag"]["high"] < 31.0);
  const auto hollow = summary("40.00,20.00,3,yes,hollow\n");
  CHECK(hollow["mixed"]["precious_g"]["Ag"]["high"] > 39.9);
  options.summary = Summary::text;
  const std::string text = run("dry_g,rise_g,mixed\n40.00,1.20,yes\n", options).result.summary;
  INFO(text);
  CHECK(testing::contains(text, "Nothing at all fits 1 piece (40 g)"));
  CHECK_FALSE(testing::contains(text, "may hold from"));
}

TEST_CASE("a summary warns of what comes with a place and of the drop, without a number of pieces", "[batch_passes]")
{
  BatchOptions options;
  options.summary = Summary::json;
  const std::string csv = "dry_g,rise_g,found,skin_reagent,reagent\n5.00,0.48,contactor,red,chromate\n";
  const auto json = nlohmann::json::parse(run(csv, options).result.summary);
  INFO(json["cautions"].dump(1));
  const auto caution = [&](const char* key) {
    const auto& all = json["cautions"];
    const auto match = std::find_if(all.begin(), all.end(), [&](const auto& one) { return one.at("key") == key; });
    REQUIRE(match != all.end());
    return *match;
  };
  CHECK(caution("asbestos").at("pieces").is_null());
  CHECK(caution("chromium-vi").at("pieces").is_null());
  CHECK(caution("cadmium").at("pieces") == 1);
}

// The step and its care as `weigh` has them, with the drop that the rows name.
TEST_CASE("a summary proposes a drop with its cautions, each once", "[batch_passes]")
{
  BatchOptions options;
  options.verdict.piles = {.cadmium = 0.99, .sure = 0.999};
  const std::string header = "dry_g,rise_g,found,skin_colour,sides,edge,magnet,notch_reagent,reagent\n";
  const auto row = [](const std::string& rise_g, const std::string& reagent) {
    return "0.8000," + rise_g + ",relay,white,alike,plain,no-pull,," + reagent + "\n";
  };
  const auto summary = [&](const std::string& rows, Summary form) {
    options.summary = form;
    return run(header + rows, options).result.summary;
  };
  const auto times = [](std::string text, const std::string& part) {
    std::replace(text.begin(), text.end(), '\n', ' ');
    int n = 0;
    for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) {
      ++n;
    }
    return n;
  };
  const auto undecided = [&](const std::string& rows) {
    return nlohmann::json::parse(summary(rows, Summary::json))["undecided"];
  };
  const std::string red = row("0.0798", "chromate");
  REQUIRE(undecided(red)["next"] == "skin-reagent");
  CHECK(undecided(red)["cautions"] == std::vector<std::string>{"cadmium", "chromium-vi", "acid"});
  CHECK(times(undecided(red)["step"], "Put one drop of the silver reagent") == 1);
  const std::string text = summary(red, Summary::text);
  INFO(text);
  CHECK(times(text, "Put one drop of the silver reagent") == 1);
  CHECK(times(text, "Care: The red drop holds chromium(VI)") == 1);
  CHECK(times(text, "Care: what the drop takes off may hold cadmium") == 1);
  // Nitric acid holds no chromium; of both drops the care for the worse is told.
  const std::string clear = row("0.0798", "nitric");
  REQUIRE(undecided(clear)["next"] == "skin-reagent");
  const std::string of_clear = summary(clear, Summary::text);
  CHECK(times(of_clear, "Put one drop of the nitric acid") == 1);
  CHECK(times(of_clear, "chromium") == 0);
  CHECK(times(of_clear, "what the drop takes off may hold cadmium") == 1);
  for (const std::string& both : {red + clear, clear + red}) {
    CHECK(times(summary(both, Summary::text), "Care: The red drop holds chromium(VI)") == 1);
  }
  const std::string fine = row("0.0760", "chromate");
  CHECK(undecided(fine)["cautions"] == std::vector<std::string>{"chromium-vi", "acid"});
  CHECK(times(summary(fine, Summary::text), "may hold cadmium") == 0);
  // Said already of a drop that was used.
  const std::string used = summary(red + red + "5.0000,0.4900,tableware,,,,,red,chromate\n", Summary::text);
  CHECK(times(used, "Put one drop of the silver reagent") == 1);
  CHECK(times(used, "The red drop holds chromium(VI)") == 1);
}

// 31.1034768 g to the troy ounce; the grams are told rounded.
TEST_CASE("a summary tells silver in grams and troy ounces", "[batch_passes]")
{
  BatchOptions options;
  options.summary = Summary::text;
  std::string text =
      run("dry_g,rise_g,found\n40.000,3.855,tableware\n60.000,5.782,tableware\n", options).result.summary;
  std::replace(text.begin(), text.end(), '\n', ' ');
  INFO(text);
  std::smatch said;
  REQUIRE(std::regex_search(
      text, said, std::regex("It holds ([0-9.]+) to ([0-9.]+) g of silver .([0-9.]+) to ([0-9.]+) troy ounces.")));
  CHECK(std::stod(said[1]) > 80.0);
  CHECK(std::stod(said[2]) < 100.0);
  CHECK_THAT(std::stod(said[3]), WithinRel(std::stod(said[1]) / 31.1034768, 0.01));
  CHECK_THAT(std::stod(said[4]), WithinRel(std::stod(said[2]) / 31.1034768, 0.01));
}

// No more than the 40 g of the first row can be counted as silver.
TEST_CASE("a summary counts hollow ware and no metal of it", "[batch_passes]")
{
  BatchOptions options;
  options.summary = Summary::json;
  const std::string csv = "dry_g,rise_g,found,form\n40.000,3.855,tableware,solid\n60.000,9.000,tableware,hollow\n";
  const auto json = nlohmann::json::parse(run(csv, options).result.summary);
  CHECK(json["pieces"] == 2);
  CHECK(json["hollow_pieces"] == 1);
  CHECK_THAT(json["hollow_g"].get<double>(), WithinRel(60.0, 0.001));
  CHECK(json["precious_g"]["Ag"]["low"] > 30.0);
  CHECK(json["precious_g"]["Ag"]["high"] < 40.0);
  options.summary = Summary::text;
  std::string text = run(csv, options).result.summary;
  std::replace(text.begin(), text.end(), '\n', ' ');
  CHECK(testing::contains(text, "1 piece of hollow or filled ware, undecided in its row, stands in no pile: "));
}

// A known piece that reads 8.7 for 8.94 g/cm3, and one of 19.6 g/cm3, between gold (19.3) and platinum (21.4).
TEST_CASE("a summary counts what was read wrong and what nothing explains", "[batch_passes]")
{
  BatchOptions options;
  options.summary = Summary::json;
  options.defaults[Field::wetting] = "soaped";
  const std::string csv =
      "dry_g,rise_g,found,reference_density\n20.000,2.300,,8.94\n20.000,2.235,,8.94\n10.370,0.530,connector,\n"
      "5.000,0.485,connector,\n";
  const auto json = nlohmann::json::parse(run(csv, options).result.summary);
  CHECK(json["known_rows"] == 2);
  CHECK(json["known_unfit_rows"] == 1);
  CHECK(json["pieces"] == 2);
  CHECK(json["unexplained_pieces"] == 1);
}

TEST_CASE("a summary's bands cover what was asked for", "[batch_passes]")
{
  const std::string csv = "dry_g,rise_g,found\n40.000,3.855,tableware\n5.000,0.485,relay\n";
  BatchOptions options;
  options.summary = Summary::json;
  const auto silver = [&](double level) {
    options.verdict.level = level;
    const auto json = nlohmann::json::parse(run(csv, options).result.summary);
    CHECK(json["level"] == level);
    const auto& band = json["precious_g"]["Ag"];
    return band["high"].get<double>() - band["low"].get<double>();
  };
  CHECK(silver(0.68) < 0.8 * silver(0.95));
  options.summary = Summary::text;
  options.verdict.level = 0.8;
  const std::string text = run(csv, options).result.summary;
  CHECK(testing::contains(text, " troy ounces; 80 %)"));
  CHECK(text.find("80 %") == text.rfind("80 %"));
  CHECK(testing::contains(run("dry_g,rise_g\n5.000,0.485\n", options).result.summary, " g of silver (80 %), "));
}

TEST_CASE("a lot in another encoding spoils no summary", "[batch_passes]")
{
  const std::string csv = "piece,dry_g,rise_g,lot\na,5.000,0.480,caf\xE9\ncaf\xE9,5.010,0.481,caf\xE9\n";
  BatchOptions options;
  for (const bool sitting : {false, true}) {
    options.sitting = sitting;  // its remarks name pieces
    options.summary = Summary::json;
    const auto json = nlohmann::json::parse(run(csv, options).result.summary);
    REQUIRE(json["lots"].size() == 1);
    CHECK(json["lots"][0]["lot"] == "caf\xEF\xBF\xBD");
    options.summary = Summary::text;
    CHECK(run(csv, options).result.summary.find("caf\xE9") != std::string::npos);
  }
}

TEST_CASE("there is no summary of rows that could not be written", "[batch_passes]")
{
  // Takes so many bytes, as a disk does that is nearly full.
  class Room : public std::streambuf
  {
   public:
    explicit Room(long bytes) : left_(bytes) {}

   protected:
    int_type overflow(int_type c) override { return left_-- > 0 ? c : traits_type::eof(); }

   private:
    long left_;
  };
  const std::string csv = "piece,dry_g,rise_g\na,5.000,0.480\nb,5.010,0.481\n";
  BatchOptions options;
  options.summary = Summary::text;
  for (const bool json : {false, true}) {
    options.json = json;
    for (const long bytes : {0L, 100L, 500L}) {
      Room room(bytes);
      std::istringstream in(csv);
      std::ostream out(&room);
      const BatchResult result = run_batch(built_in_tables(), options, in, out);
      CHECK_FALSE(out);
      CHECK(result.summary.empty());
      CHECK(result.rows == 0);
    }
    CHECK_FALSE(run(csv, options).result.summary.empty());
  }
}

TEST_CASE("rows that are read twice are refused from a stream before anything is written", "[batch_passes]")
{
  // Gives one text and cannot go back, as a pipe.
  class Pipe : public std::streambuf
  {
   public:
    explicit Pipe(std::string text) : text_(std::move(text))
    {
      setg(text_.data(), text_.data(), text_.data() + text_.size());
    }

   private:
    std::string text_;
  };
  for (const bool learn : {false, true}) {
    BatchOptions options;
    options.sitting = !learn;
    options.learn = learn;
    options.defaults[Field::scale] = learn ? "" : "pocket";
    Pipe pipe("piece,dry_g,rise_g\na,5.00,0.48\n");
    std::istream in(&pipe);
    std::ostringstream out;
    const testing::Refusal r = testing::refusal_of([&] { run_batch(built_in_tables(), options, in, out); });
    CHECK(r.code == ErrorCode::bad_option);
    CHECK(testing::contains(r.message, "give a file, not a stream"));
    CHECK(out.str().empty());
  }
}

// What else lies in the jar is no reason to put a piece to the melt.
TEST_CASE("a jar that teaches makes no hazard less likely", "[batch_passes]")
{
  std::string csv = "piece,dry_g,rise_g,found,count\nrivets,8.16,0.79,switch,24\n";
  for (int i = 0; i < 12; ++i) {
    csv += fmt::format("silver {},{:.2f},{:.2f},switch,1\n", i, 10.49 + 0.1 * i, 1.0 + 0.0095 * i);
  }
  BatchOptions options;
  const Worked alone = run(csv, options);
  options.learn = true;
  const Worked taught = run(csv, options);
  REQUIRE(alone.rows[0].size() > 23);
  const auto cell = [](const Worked& worked, const std::string& column) {
    const auto& names = result_columns();
    return worked.rows[0][static_cast<std::size_t>(std::find(names.begin(), names.end(), column) - names.begin())];
  };
  REQUIRE(cell(alone, "pile") == "cadmium-suspect");
  CHECK(cell(taught, "pile") == "cadmium-suspect");
  CHECK(cell(taught, "cautions").find("cadmium") != std::string::npos);
  CHECK(cell(alone, "probability") != cell(taught, "probability"));  // it has learned
}

// A row that is left out of a first pass changes what the others say, so that it must be told: nowhere else is it
// wrong.
TEST_CASE("want of memory in a first pass ends the batch, or its row says so", "[batch_passes]")
{
  constexpr std::size_t long_name = 300000;
  const std::string csv = "piece,dry_g,rise_g\n" + std::string(long_name, 'x') + ",5.00,0.48\nb,5.00,0.49\n";
  for (const bool sitting : {true, false}) {
    BatchOptions options;
    options.sitting = sitting;
    options.learn = !sitting;
    options.threads = 1;
    bool refused = true;
    int refusals = 0;
    for (int after = 0; refused && after < 100; ++after) {
      bool told = false;
      std::istringstream in(csv);
      std::ostringstream out;
      {
        const testing::LimitedMemory limited(long_name, after);
        try {
          told = run_batch(built_in_tables(), options, in, out).unusable == 1 || !out;
        } catch (const std::bad_alloc&) {
          told = true;
        }
        refused = testing::LimitedMemory::refused();
      }
      INFO(after << " requests were granted");
      CHECK((told || !refused));
      refusals += refused ? 1 : 0;
    }
    CHECK(refusals > 2);
    CHECK_FALSE(refused);
  }
}
