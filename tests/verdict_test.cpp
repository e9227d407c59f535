#include <fmt/core.h>
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <regex>

#include "bilancetta/error.hpp"
#include "bilancetta/report.hpp"
#include "bilancetta/verdict.hpp"
#include "support.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace
{

const Prepared& prepared()
{
  static const Prepared all(built_in_tables());
  return all;
}

// An ideal weighing by the cup: what a piece of this density and mass would read, rounded to the step.
Piece weighed(double density, double dry_g, ScaleClass scale_class, const std::string& place = "unknown")
{
  Piece piece;
  piece.weighing.scale = scale_of(scale_class);
  piece.weighing.surroundings.wetting = Wetting::boiled;
  const double step = piece.weighing.scale.readability_g;
  const double air = air_density_g_cm3({});
  const double rise = dry_g * (water_density_g_cm3(20.0) - air) / (density - air);
  piece.weighing.readings.dry_g = {std::round(dry_g / step) * step};
  piece.weighing.readings.rise_g = {std::round(rise / step) * step};
  piece.context.place = place;
  piece.context.form = place_called(built_in_tables(), place).form;
  return piece;
}

int rank_of(const Verdict& verdict, const std::string& key, Build build)
{
  for (std::size_t i = 0; i < verdict.candidates.size(); ++i) {
    if (verdict.candidates[i].key == key && verdict.candidates[i].build == build) {
      return static_cast<int>(i) + 1;
    }
  }
  return 1000;
}

double probability_of_group(const Verdict& verdict, const std::string& group)
{
  double total = 0.0;
  for (const Candidate& c : verdict.candidates) {
    total += c.group == group ? c.probability : 0.0;
  }
  return total;
}

// Without the ends of lines and the blanks that begin them.
std::string on_one_line(const std::string& text)
{
  std::string line;
  for (const char c : text) {
    const bool blank = c == ' ' || c == '\n';
    if (!blank || !line.ends_with(' ')) {
      line += blank ? ' ' : c;
    }
  }
  return line;
}

}  // namespace

TEST_CASE("with even odds every solid row is found again at its typical density", "[verdict]")
{
  const Tables& tables = built_in_tables();
  int among_five = 0;
  int rows = 0;
  for (const Material& material : tables.materials) {
    Piece piece = weighed(typical_density_g_cm3(material, tables.constituents), 5.0, ScaleClass::laboratory);
    piece.context.even_odds = true;
    const Verdict verdict = verdict_of(prepared(), piece, {});
    const int rank = rank_of(verdict, material.key, Build::solid);
    ++rows;
    among_five += rank <= 5 ? 1 : 0;
    if (rank > 5) {
      UNSCOPED_INFO(material.key << " is number " << rank);
    }
    // Its own candidate's fractions are within 3 % mass of the typical ones.
    if (rank < 1000) {
      for (const FractionBand& f : verdict.candidates[rank - 1].fractions) {
        const int c = find_constituent(tables, f.constituent);
        const auto own = std::find_if(material.components.begin(), material.components.end(),
                                      [&](const Component& one) { return one.constituent == c; });
        INFO(material.key << " " << f.constituent);
        CHECK_THAT(f.best, WithinAbs(own->fraction.typical, 0.03));
      }
    }
  }
  WARN(fmt::format("{} of {} rows among the first five", among_five, rows));
  CHECK(among_five >= 0.84 * rows);
}

TEST_CASE("seven known pieces are among the first three where they are found", "[verdict]")
{
  const Tables& tables = built_in_tables();
  const auto [key, place] = GENERATE(table<std::string, std::string>({{"c11000", "connector"},
                                                                      {"c26000", "connector"},
                                                                      {"fine-silver", "relay"},
                                                                      {"sterling", "tableware"},
                                                                      {"tungsten", "breaker"},
                                                                      {"ag-w-65", "breaker"},
                                                                      {"lead", "unknown"}}));
  const Material& material = material_called(tables, key);
  const Verdict verdict =
      verdict_of(prepared(),
                 weighed(typical_density_g_cm3(material, tables.constituents), 5.0, ScaleClass::laboratory, place), {});
  INFO(key << " at " << place << ": first is " << verdict.candidates[0].key << " "
           << name_of(verdict.candidates[0].build));
  const int rank = rank_of(verdict, key, Build::solid);
  REQUIRE(rank <= 3);
  // Its fit leaves nothing of a piece that weighs as it does typically; that of what would have read otherwise does.
  const Candidate& own = verdict.candidates[rank - 1];
  CHECK(std::abs(own.misfit) < 0.3);
  for (const Candidate& c : verdict.candidates) {
    if (c.build == Build::solid && std::abs(c.expected_reading_g / own.expected_reading_g - 1.0) > 0.03) {
      INFO(c.key);
      CHECK(std::abs(c.misfit) > std::abs(own.misfit));
    }
  }
}

TEST_CASE("breaker contacts of common make rank high", "[verdict]")
{
  // Common practice, no source: breaker contacts are commonly silver with about 60 % tungsten, or silver
  // with about 10 % cadmium oxide.
  const Tables& tables = built_in_tables();
  const auto [key, group] = GENERATE(
      table<std::string, std::string>({{"ag-w-60", "silver-tungsten"}, {"ag-cdo-10", "silver-cadmium-oxide"}}));
  const Material& material = material_called(tables, key);
  const Verdict verdict = verdict_of(
      prepared(), weighed(typical_density_g_cm3(material, tables.constituents), 3.0, ScaleClass::jeweller, "breaker"),
      {});
  CHECK(verdict.candidates[0].group == group);
  CHECK(probability_of_group(verdict, group) > 0.4);
}

TEST_CASE("claims follow the rule", "[verdict]")
{
  Piece spoon = weighed(10.35, 32.0, ScaleClass::jeweller, "tableware");
  spoon.claim = "sterling";
  CHECK(verdict_of(prepared(), spoon, {}).claim->result == ClaimResult::consistent);

  Piece nickel_silver = weighed(8.70, 28.0, ScaleClass::jeweller, "tableware");
  nickel_silver.claim = "925";
  const Verdict unsure = verdict_of(prepared(), nickel_silver, {});
  CHECK(unsure.claim->result == ClaimResult::cannot_tell);
  CHECK(unsure.claim->because.find("hollow") != std::string::npos);
  nickel_silver.context.form = Form::solid;
  CHECK(verdict_of(prepared(), nickel_silver, {}).claim->result == ClaimResult::inconsistent);

  Piece small = weighed(10.36, 0.4, ScaleClass::pocket);
  small.claim = "sterling";
  CHECK(verdict_of(prepared(), small, {}).claim->result == ClaimResult::cannot_tell);

  // No scale tells 925 from 900: with a laboratory scale and 50 g, 900 is still among the look-alikes.
  Piece heavy = weighed(10.36, 50.0, ScaleClass::laboratory);
  heavy.claim = "sterling";
  const Verdict fine = verdict_of(prepared(), heavy, {});
  const auto& alike = fine.claim->look_alikes;
  CHECK(std::any_of(alike.begin(), alike.end(), [](const auto& one) { return one.key == "coin-silver"; }));
}

TEST_CASE("nothing explains a density that no material has", "[verdict]")
{
  // Heavier than platinum-iridium (21.7) and lighter than nothing: no row reaches it.
  const Verdict verdict = verdict_of(prepared(), weighed(22.3, 20.0, ScaleClass::laboratory), {});
  CHECK_FALSE(verdict.analysis.explained);
  CHECK(verdict.sentence.find("Nothing in the tables explains") == 0);
  CHECK(verdict.pile == Pile::undecided);
}

// No more digits than the uncertainty leaves (JCGM 100:2008, 7.2.6: one or two of the uncertainty's own).
TEST_CASE("sentences give a density with the decimals that the readings carry", "[verdict]")
{
  const Verdict verdict = verdict_of(prepared(), weighed(9.3, 1.48, ScaleClass::pocket, "relay"), {});
  const DensitySummary& d = verdict.analysis.density;
  REQUIRE(d.standard_uncertainty > 0.1);
  REQUIRE(std::abs(d.value - std::round(10.0 * d.value) / 10.0) > 0.005);  // more decimals would show
  bool told = false;
  for (const std::string& reason : verdict.why) {
    told |= reason.find(fmt::format(" {:.1f} g/cm3", d.value)) != std::string::npos;
    CHECK(reason.find(fmt::format("{:.2f}", d.value)) == std::string::npos);
    CHECK(reason.find(fmt::format("{:.3f}", d.value)) == std::string::npos);
  }
  CHECK(told);
}

TEST_CASE("hollow ware is told so and not called unexplained", "[verdict]")
{
  Piece knife = weighed(5.5, 60.0, ScaleClass::pocket, "tableware");
  knife.context.form = Form::hollow;
  knife.claim = "sterling";
  const Verdict verdict = verdict_of(prepared(), knife, {});
  CHECK(verdict.analysis.explained);
  CHECK(verdict.claim->result == ClaimResult::cannot_tell);
}

TEST_CASE("two metals joined are named as such", "[verdict]")
{
  const Tables& tables = built_in_tables();
  const int row = static_cast<int>(std::find_if(tables.builds.begin(), tables.builds.end(),
                                                [](const BuildRow& b) { return b.key == "screw-in-terminal"; }) -
                                   tables.builds.begin());
  const Hypothesis h = layered_hypothesis(tables, row, find_material(tables, "steel-low-carbon"),
                                          find_material(tables, "c11000"), {0.1, {}});
  CHECK(h.kind == Kind::joined);
  CHECK(h.build == Build::other);
  // Volumes add: 0.45 of steel, the rest copper (typical share of the row).
  const double typical[max_variables] = {};
  const auto density_of = [&](const char* key) {
    return solid_hypothesis(tables, find_material(tables, key)).evaluate(typical).density;
  };
  CHECK_THAT(h.evaluate(typical).density,
             WithinRel(0.45 * density_of("steel-low-carbon") + 0.55 * density_of("c11000"), 1e-9));
  Piece piece = weighed(8.4, 5.0, ScaleClass::jeweller, "connector");
  add_answer(tables, piece.context.answers, "magnet", "strong");
  add_answer(tables, piece.context.answers, "sides", "differ");
  add_answer(tables, piece.context.answers, "back-colour", "copper");
  const Verdict v = verdict_of(prepared(), piece, {});
  INFO(v.sentence);
  CHECK(v.sentence.find("teel joined to copper") != std::string::npos);
  CHECK(v.analysis.builds[static_cast<int>(Build::other)] > 0.3);
}

TEST_CASE("a coin of poured lead and tin that writes on paper is not taken for silver", "[verdict]")
{
  // Volumes add (densities from the CRC Handbook of Chemistry and Physics, by memory: lead 11.34, tin 7.29): four parts
  // of lead and one of tin weigh what coin silver does. That lead writes on paper is common practice, no source.
  const double density = 1.0 / (0.8 / 11.34 + 0.2 / 7.29);
  Piece piece = weighed(density, 26.0, ScaleClass::pocket, "coins");
  const Verdict by_weight = verdict_of(prepared(), piece, {});
  CHECK(probability_of_group(by_weight, "silver-copper") > 0.5);
  add_answer(built_in_tables(), piece.context.answers, "paper", "streak");
  add_answer(built_in_tables(), piece.context.answers, "notch-colour", "grey");
  const Verdict v = verdict_of(prepared(), piece, {});
  INFO(v.sentence);
  CHECK(probability_of_group(v, "tin-lead") > 0.3);
  CHECK(v.precious_g.at("Ag").low == 0.0);
  const auto lead = [](const CautionShown& c) { return c.key == "lead"; };
  const auto caution = std::find_if(v.cautions.begin(), v.cautions.end(), lead);
  REQUIRE(caution != v.cautions.end());
  CHECK(caution->why.find("likeliest as poured lead-tin") != std::string::npos);
}

TEST_CASE("probabilities sum to one and bands hold their medians", "[verdict]")
{
  const double density = GENERATE(4.5, 7.3, 8.5, 8.94, 9.6, 10.2, 10.49, 12.0, 14.8, 19.3);
  const auto scale = GENERATE(ScaleClass::pocket, ScaleClass::laboratory);
  const Verdict v = verdict_of(prepared(), weighed(density, 2.0, scale), {});
  double total = 0.0;
  for (const double p : v.analysis.builds) {
    total += p;
  }
  CHECK_THAT(total, WithinAbs(1.0, 1e-9));
  for (const auto& [constituent, band] : v.fractions) {
    CHECK(band.low <= band.median);
    CHECK(band.median <= band.high);
    CHECK(band.low >= 0.0);
    CHECK(band.high <= 1.0);
  }
  for (const Candidate& c : v.candidates) {
    double sum = 0.0;
    for (const FractionBand& f : c.fractions) {
      sum += f.best;
    }
    CHECK_THAT(sum, WithinAbs(1.0, 1e-9));
    CHECK(c.fit_converged);
  }
}

TEST_CASE("cadmium is cautioned where a cadmium alloy is plausible, and its caution defers to licensed practice",
          "[verdict]")
{
  const Tables& tables = built_in_tables();
  for (const Material& material : tables.materials) {
    if (std::find(material.cautions.begin(), material.cautions.end(), "cadmium") == material.cautions.end() ||
        material.key == "c16200") {
      continue;  // cadmium copper weighs like every copper: only 1 % of the coppers
    }
    const double density = typical_density_g_cm3(material, tables.constituents);
    const Verdict v = verdict_of(prepared(), weighed(density, 2.0, ScaleClass::pocket), {});
    INFO(material.key);
    const auto caution =
        std::find_if(v.cautions.begin(), v.cautions.end(), [](const CautionShown& c) { return c.key == "cadmium"; });
    REQUIRE(caution != v.cautions.end());
    CHECK(caution->urgency == Urgency::stop);
    CHECK(caution->text.find("licensed") != std::string::npos);
  }
}

TEST_CASE("text, JSON and single values are one result", "[verdict][report]")
{
  const Piece piece = weighed(10.2, 4.0, ScaleClass::pocket, "breaker");
  const Verdict v = verdict_of(prepared(), piece, {});
  const ReportHeading heading{"0", "", {}};
  const std::string json = json_report(built_in_tables(), piece, v, heading);
  CHECK(json_value(json, "candidates.0.material") == v.candidates[0].material);
  CHECK(json_value(json, "sentence") == v.sentence);
  CHECK_THROWS_AS(json_value(json, "candidates.99.material"), Error);
  const std::string text = text_report(built_in_tables(), piece, v, heading);
  std::size_t from = 0;
  while (from < text.size()) {
    const std::size_t end = text.find('\n', from);
    CHECK(end - from <= 80);
    from = end + 1;
  }
}

// Ten like pieces of 5 g at 10.4 g/cm3: 50 g and 50/10.4 = 4.81 cm3, 5 g and 0.481 cm3 each.
TEST_CASE("a volume is mass by density, and each of like pieces has its share", "[verdict][report]")
{
  Piece piece = weighed(10.4, 50.0, ScaleClass::pocket);
  piece.weighing.count = 10;
  const Verdict v = verdict_of(prepared(), piece, {});
  const std::string json = json_report(built_in_tables(), piece, v, {"0", "", {}});
  const auto value = [&](const char* path) { return std::stod(json_value(json, path)); };
  CHECK_THAT(value("mass_g.value"), WithinRel(50.0, 0.001));
  CHECK_THAT(value("volume_cm3.value"), WithinRel(50.0 / 10.4, 0.005));
  // JCGM 100:2008, 5.1.6: relative variances of factors of a quotient add.
  const double relative_u = std::hypot(value("mass_g.standard_uncertainty") / value("mass_g.value"),
                                       value("density.standard_uncertainty") / value("density.value"));
  CHECK_THAT(value("volume_cm3.standard_uncertainty"), WithinRel(value("volume_cm3.value") * relative_u, 0.02));
  CHECK_THAT(value("each.mass_g"), WithinRel(5.0, 0.001));
  CHECK_THAT(value("each.volume_cm3"), WithinRel(5.0 / 10.4, 0.005));
}

// 31.1034768 g to the troy ounce.
TEST_CASE("worth is grams by price by what a buyer pays, and hollow ware has none", "[verdict][report]")
{
  Piece spoon = weighed(10.36, 20.0, ScaleClass::jeweller, "tableware");
  spoon.context.form = Form::solid;
  VerdictOptions options;
  options.prices.per_g["Ag"] = 1.0;
  options.prices.pays = 0.5;
  const Verdict v = verdict_of(prepared(), spoon, options);
  const Band& silver = v.precious_g.at("Ag");
  REQUIRE(silver.median > 15.0);
  CHECK_THAT(v.worth.value().median, WithinRel(0.5 * silver.median, 1e-3));
  CHECK_THAT(v.worth.value().low, WithinRel(0.5 * silver.low, 1e-3));
  CHECK_THAT(v.worth.value().high, WithinRel(0.5 * silver.high, 1e-3));
  const std::string text = on_one_line(text_report(built_in_tables(), spoon, v, {"0", "", {}}));
  CHECK(text.find("at Ag 1.0 a gram (31 a troy ounce), of which a buyer pays 50 %") != std::string::npos);
  for (const Form form : {Form::hollow, Form::filled}) {
    spoon.context.form = form;
    CHECK_FALSE(verdict_of(prepared(), spoon, options).worth);
  }
}

TEST_CASE("a part on which the drop does nothing keeps every family that its density allows, with what tells it apart",
          "[verdict]")
{
  // Densities in g/cm3 as handbooks print them for the pure metals (tungsten 19.3, molybdenum 10.22, titanium 4.51,
  // tantalum 16.6, gold 19.3, palladium 12.0, platinum 21.45), 7.9 for stainless steel; coats weigh like their cores;
  // silver with much tungsten 15.0; lacquered sterling 10.36.
  struct Case {
    double density;
    const char* place;
    const char* words;
  };
  const Case one =
      GENERATE(Case{19.25, "unknown", "solid tungsten"}, Case{10.22, "unknown", "solid molybdenum"},
               Case{7.93, "unknown", "solid stainless steel"}, Case{4.51, "unknown", "solid titanium"},
               Case{16.65, "unknown", "solid tantalum"}, Case{8.5, "tableware", "chromium plate on"},
               Case{8.5, "connector", "rhodium or ruthenium plate on"}, Case{19.3, "jewellery", "solid gold alloy"},
               Case{12.0, "relay", "solid palladium"}, Case{21.4, "jewellery", "solid platinum"},
               Case{10.36, "tableware", "solid silver-copper alloy"}, Case{15.0, "breaker", "solid silver-tungsten"});
  Piece piece = weighed(one.density, 5.0, ScaleClass::jeweller, one.place);
  piece.context.form = Form::solid;
  add_answer(built_in_tables(), piece.context.answers, "skin-reagent", "no-reaction");
  piece.context.answers.reagent_checked = true;
  const Verdict v = verdict_of(prepared(), piece, {});
  std::string listed;
  for (const Remaining& r : v.remains) {
    listed += r.words + fmt::format(" {:.3f}; ", r.probability);
  }
  INFO(one.words << " at " << one.density << ": " << listed);
  const auto match = std::find_if(v.remains.begin(), v.remains.end(),
                                  [&](const Remaining& r) { return r.words.find(one.words) != std::string::npos; });
  REQUIRE(match != v.remains.end());
  // Each has something to tell it by, or the text says that nothing does.
  const std::string text = on_one_line(text_report(built_in_tables(), piece, v, {"0", "", {}}));
  CHECK(text.find("The drop did nothing; what remains") != std::string::npos);
  const std::vector<BenchTest>& tests = built_in_tables().tests;
  for (const Remaining& r : v.remains) {
    const bool told = std::any_of(tests.begin(), tests.end(), [&](const BenchTest& t) { return t.key == r.told_by; });
    CHECK(told == !r.told_by.empty());
    const std::string says = told ? "told by: " + r.told_by : "no test at the bench would change this much";
    INFO(r.words << "; " << says);
    CHECK(text.find(r.words + "; " + says) != std::string::npos);
  }
}

TEST_CASE("why is told in text and JSON: what it rests on, what was ruled out, what each rival would have read",
          "[verdict]")
{
  const Piece piece = weighed(9.6, 5.0, ScaleClass::jeweller, "relay");
  const Verdict v = verdict_of(prepared(), piece, {});
  const ReportHeading heading{"0", "", {}};
  const std::string text = text_report(built_in_tables(), piece, v, heading);
  const std::string json = json_report(built_in_tables(), piece, v, heading);
  CHECK(text.find("rests on") != std::string::npos);
  CHECK(text.find("Ruled out") != std::string::npos);
  CHECK(text.find("would read") != std::string::npos);
  for (const char* path :
       {"why.0", "leans_on.weight", "ruled_out.0.why", "candidates.1.expected_reading_g", "next.0.helps"}) {
    CHECK_NOTHROW(json_value(json, path));
  }
}

TEST_CASE("the answer says so where even odds would put another explanation first", "[verdict]")
{
  // At a breaker silver-cadmium oxide is common, which weighs what molybdenum-silver and much else weighs.
  bool said = false;
  for (const double density : {8.9, 9.6, 10.2, 10.4, 13.0}) {
    const Piece piece = weighed(density, 5.0, ScaleClass::pocket, "breaker");
    Piece even = piece;
    even.context.even_odds = true;
    const Verdict v = verdict_of(prepared(), piece, {});
    const bool line = std::any_of(v.why.begin(), v.why.end(),
                                  [](const std::string& why) { return why.find("With even odds: ") == 0; });
    said = said || line;
    const std::string own = v.sentence.substr(0, v.sentence.find('('));
    const std::string other = verdict_of(prepared(), even, {}).sentence;
    if (line) {
      CHECK(other.substr(0, other.find('(')) != own);
    }
  }
  CHECK(said);
}

TEST_CASE("layered pieces tell of their layers in grams and why", "[verdict]")
{
  // Two brass contacts with silver faces weigh between brass and silver; sides that differ make an inlay.
  Piece inlay = weighed(9.3, 5.0, ScaleClass::jeweller, "relay");
  add_answer(built_in_tables(), inlay.context.answers, "sides", "differ");
  const Verdict v = verdict_of(prepared(), inlay, {});
  const auto line = std::find_if(v.why.begin(), v.why.end(), [](const std::string& why) {
    return why.find("% of the weight") != std::string::npos;
  });
  REQUIRE(line != v.why.end());
  CHECK(line->find("g/cm3") != std::string::npos);
  // The face has its percentage of the 5 g, and the base the rest.
  INFO(*line);
  std::smatch grams;
  REQUIRE(std::regex_search(
      *line, grams,
      std::regex("face is ([0-9]+) % of the weight .*: it weighs ([0-9.]+) g .* and the base ([0-9.]+) g ")));
  CHECK_THAT(std::stod(grams[2]), WithinAbs(0.05 * std::stod(grams[1]), 0.1));
  CHECK_THAT(std::stod(grams[3]), WithinAbs(5.0 - 0.05 * std::stod(grams[1]), 0.1));

  Piece plated = weighed(8.9, 10.0, ScaleClass::jeweller, "tableware");
  plated.context.form = Form::solid;
  add_answer(built_in_tables(), plated.context.answers, "notch-colour", "yellow");
  add_answer(built_in_tables(), plated.context.answers, "skin-reagent", "bright-red");
  const Verdict p = verdict_of(prepared(), plated, {});
  const auto coat = std::find_if(p.why.begin(), p.why.end(), [](const std::string& why) {
    return why.find("micrometres thick") != std::string::npos;
  });
  REQUIRE(coat != p.why.end());
  CHECK(coat->find("silver") != std::string::npos);
  CHECK(coat->find(" mg") != std::string::npos);
  CHECK(coat->find("hardly moves the density") != std::string::npos);
  INFO(*coat);
  // The thickness is known to a factor of several: its middle has one digit, below 3 in halves.
  std::smatch said;
  REQUIRE(std::regex_search(*coat, said, std::regex("about ([0-9.]+) micrometres thick .([0-9.]+) to ([0-9.]+).")));
  CHECK(std::stod(said[3]) > 3.0 * std::stod(said[2]));
  const double middle = std::stod(said[1]);
  const double digits = middle / std::pow(10.0, std::floor(std::log10(middle) + 1e-9));
  const double steps = digits < 3.0 ? 2.0 * digits : digits;
  CHECK_THAT(steps, WithinAbs(std::round(steps), 1e-9));
}

TEST_CASE("answers that contradict each other do not take a piece off the cadmium pile", "[verdict]")
{
  Piece piece = weighed(10.4, 0.85, ScaleClass::pocket, "contactor");
  add_answer(built_in_tables(), piece.context.answers, "skin-reagent", "bright-red");
  add_answer(built_in_tables(), piece.context.answers, "notch-reagent", "no-reaction");
  const Verdict v = verdict_of(prepared(), piece, {});
  CHECK_FALSE(v.conflicts.empty());
  CHECK(v.pile == Pile::cadmium_suspect);
  // The drop was not silent everywhere, so nothing follows from its silence.
  CHECK(v.remains.empty());
}

TEST_CASE("a dead drop is thought of where a drop was silent and not tried on a known piece", "[verdict]")
{
  const auto warned = [](bool checked) {
    Piece piece = weighed(15.0, 5.0, ScaleClass::jeweller, "breaker");
    add_answer(built_in_tables(), piece.context.answers, "skin-reagent", "no-reaction");
    piece.context.answers.reagent_checked = checked;
    const Verdict v = verdict_of(prepared(), piece, {});
    CHECK_FALSE(v.remains.empty());
    return std::any_of(v.warnings.begin(), v.warnings.end(), [](const std::string& warning) {
      return warning.find("--reagent-checked") != std::string::npos;
    });
  };
  CHECK(warned(false));
  CHECK_FALSE(warned(true));
}

TEST_CASE("a piece that nothing explains is weighed again, then tested as its place allows", "[verdict]")
{
  for (const char* place : {"connector", "coins"}) {
    const Verdict v = verdict_of(prepared(), weighed(19.6, 10.37, ScaleClass::jeweller, place), {});
    REQUIRE_FALSE(v.analysis.explained);
    CHECK(v.one_thing.find("Weigh it once more") == 0);
    const auto test =
        std::find_if(v.next.begin(), v.next.end(), [](const NextTest& step) { return !step.is_weighing; });
    REQUIRE(test != v.next.end());
    CHECK(v.one_thing.find("If it stays so: " + test->step) != std::string::npos);
    CHECK(v.one_thing.find("--test " + test->key) != std::string::npos);
    CHECK((place == std::string("connector") || !test_called(built_in_tables(), test->key).marks));
  }
}

// 20 steps of 10 mg (judgement) are what 2.5 pieces displace of which one displaces 0.08 g, or 7.5 of a third of that.
// No outside source: beyond 5 % of the density the scale is called too coarse.
TEST_CASE("where the scale is too coarse for a piece more of them are asked for", "[verdict]")
{
  const auto one_thing = [](double dry_g, int count) {
    Piece piece = weighed(10.4, dry_g, ScaleClass::pocket, "relay");
    piece.weighing.count = count;
    const Verdict v = verdict_of(prepared(), piece, {});
    REQUIRE(v.analysis.explained);
    REQUIRE(v.analysis.density.bounded);
    return v.one_thing;
  };
  CHECK(one_thing(0.80, 1) == "Weigh about 3 like pieces together (--count 3): this scale is too coarse for one.");
  CHECK(one_thing(0.80, 3) == "Weigh about 8 like pieces together (--count 8): this scale is too coarse for so few.");
  CHECK(one_thing(1.60, 1).find("too coarse") == std::string::npos);
}

TEST_CASE("answers that contradict each other are named", "[verdict]")
{
  const auto conflicts = [](std::initializer_list<std::pair<const char*, const char*>> answers) {
    Piece piece = weighed(10.4, 5.0, ScaleClass::jeweller, "relay");
    for (const auto& [test, answer] : answers) {
      add_answer(built_in_tables(), piece.context.answers, test, answer);
    }
    return testing::joined(verdict_of(prepared(), piece, {}).conflicts);
  };
  // At the weight of silver a drop cannot go red on the skin and do nothing in a notch (common practice, no source).
  CHECK(conflicts({{"skin-reagent", "bright-red"}, {"notch-reagent", "no-reaction"}})
            .find("skin-reagent = bright-red and notch-reagent = no-reaction contradict each other") !=
        std::string::npos);
  CHECK(conflicts({{"magnet", "no-pull"}, {"sides", "alike"}, {"skin-reagent", "bright-red"}}).empty());
  CHECK(conflicts({{"sides", "differ"}, {"edge", "line"}, {"notch-colour", "white"}}).empty());
}

// 8.00/0.35 is 22.8 g/cm3, more than any metal has.
TEST_CASE("what is heavier than any metal has no grams, no worth and no name", "[verdict]")
{
  Piece piece = weighed(22.0, 8.0, ScaleClass::pocket, "thermocouple");
  piece.weighing.readings.rise_g = {0.35};
  piece.weighing.surroundings.wetting = Wetting::dunked;
  VerdictOptions options;
  options.prices.per_g["Pt"] = 30.0;
  const Verdict v = verdict_of(prepared(), piece, options);
  REQUIRE(v.analysis.density.possible);
  REQUIRE_FALSE(v.analysis.explained);
  CHECK(v.sentence.find("No metal is so heavy") == 0);
  CHECK(v.candidates.empty());
  CHECK(v.precious_g.empty());
  CHECK_FALSE(v.worth);
  CHECK(v.pile == Pile::undecided);
  const std::string text = text_report(built_in_tables(), piece, v, {"0", "", {}});
  CHECK(text.find("Platinum") == std::string::npos);
  CHECK(text.find("Made as") == std::string::npos);
}

// 5.00 g that rise by 0.23 g are platinum, whatever a pocket scale leaves open.
TEST_CASE("a piece of platinum is not too small for a pocket scale", "[verdict]")
{
  const Verdict v = verdict_of(prepared(), weighed(21.45, 5.0, ScaleClass::pocket, "jewellery"), {});
  CHECK(v.sentence.find("Solid platinum") == 0);
  CHECK(v.pile == Pile::other_precious);
}

// No piece holds more of the dearest metal than it weighs.
// A price that moves no answer moves no worth: the dearest metal may cost a hundred times as much.
TEST_CASE("what a piece is worth does not depend on the price of a metal that it does not hold", "[verdict]")
{
  VerdictOptions options;
  const Piece piece = weighed(10.39, 5.0, ScaleClass::jeweller, "contactor");
  options.prices.per_g = {{"Ag", 0.9}};
  const Band alone = verdict_of(prepared(), piece, options).worth.value();
  options.prices.per_g = {{"Ag", 0.9}, {"Pt", 90.0}};
  const Band beside = verdict_of(prepared(), piece, options).worth.value();
  CHECK_THAT(beside.median, WithinRel(alone.median, 0.002));
  CHECK_THAT(beside.low, WithinRel(alone.low, 0.005));
  CHECK_THAT(beside.high, WithinRel(alone.high, 0.005));
}

// By geometry: the mass of a thin coat goes with the surface. A spoon's is 18 V^(2/3) (tables/places.toml), so its coat
// weighs what it does where that surface was measured, up to the step of the tables' volumes (a factor of 1.26).
TEST_CASE("a coat covers the surface that pieces from a place have", "[verdict]")
{
  Piece spoon = weighed(8.8, 45.3, ScaleClass::jeweller, "tableware");
  spoon.context.form = Form::solid;
  spoon.weighing.shape_factor = place_called(built_in_tables(), "tableware").shape_factor.typical;
  add_answer(built_in_tables(), spoon.context.answers, "notch-colour", "yellow");
  add_answer(built_in_tables(), spoon.context.answers, "skin-colour", "white");
  const auto coat_g = [](const Verdict& v) {
    const auto plated = std::find_if(v.candidates.begin(), v.candidates.end(),
                                     [](const Candidate& c) { return c.key == "fine-silver" && c.over == "c75200"; });
    REQUIRE(plated != v.candidates.end());
    return plated->face_mass_g.median;
  };
  const double by_place = coat_g(verdict_of(prepared(), spoon, {}));
  spoon.weighing.area_cm2 = 18.0 * std::pow(45.3 / 8.8, 2.0 / 3.0);
  CHECK_THAT(by_place / coat_g(verdict_of(built_in_tables(), spoon, {})), WithinAbs(1.0, 0.3));
}

// Of metal that is nearly pure there are as many grams as the piece weighs, which the scale knows no better than it
// does: 1.96 standard uncertainties to either side of 95 %, 0.67 of 50 % (tables of the normal distribution).
TEST_CASE("the grams of a nearly pure metal are as uncertain as the mass", "[verdict]")
{
  Piece coin = weighed(19.28, 31.1, ScaleClass::pocket, "coins");
  add_answer(built_in_tables(), coin.context.answers, "skin-colour", "yellow");
  add_answer(built_in_tables(), coin.context.answers, "notch-colour", "yellow");
  for (const auto& [level, factor] : {std::pair(0.95, 1.96), std::pair(0.5, 0.674)}) {
    VerdictOptions options;
    options.level = level;
    const Verdict v = verdict_of(prepared(), coin, options);
    REQUIRE(v.fractions.at("Au").low > 0.999);
    CHECK_THAT((v.precious_g.at("Au").high - v.mass_g) / v.mass_u_g, WithinAbs(factor, 0.1));
    CHECK_THAT((v.mass_g - v.precious_g.at("Au").low) / v.mass_u_g, WithinAbs(factor, 0.3));
  }
}

TEST_CASE("a piece is worth no more than the same weight of the dearest metal", "[verdict]")
{
  VerdictOptions options;
  options.prices.per_g = {{"Ag", 1.0}, {"Au", 25.0}, {"Pd", 30.0}, {"Pt", 28.0}};
  const Piece piece = weighed(11.9, 5.0, ScaleClass::jeweller, "dental");
  const Verdict v = verdict_of(prepared(), piece, options);
  double ends = 0.0;
  for (const auto& [metal, band] : v.precious_g) {
    ends += options.prices.per_g.at(metal) * band.high;
  }
  REQUIRE(ends > 155.0);  // what adding the ends of the bands would tell
  CHECK(v.worth.value().high <= 30.0 * 5.0 * 1.001);
  CHECK(v.worth.value().low <= v.worth->median);
  CHECK(v.worth->median <= v.worth->high);
  // An alloy of two metals that cost alike is worth their sum: the weight of both.
  options.prices.per_g = {{"Ag", 2.0}};
  const double silver =
      verdict_of(prepared(), weighed(10.36, 20.0, ScaleClass::jeweller, "tableware"), options).worth->median;
  options.prices.per_g = {{"Ag", 2.0}, {"Au", 2.0}, {"Pd", 2.0}, {"Pt", 2.0}};
  const double all =
      verdict_of(prepared(), weighed(10.36, 20.0, ScaleClass::jeweller, "tableware"), options).worth->median;
  CHECK(all >= silver);
  CHECK(all <= 40.0 * 1.001);
}

TEST_CASE("the last line of the text is the one thing to do, also where a claim is doubted", "[verdict][report]")
{
  for (const double density : {9.8, 10.3, 10.36}) {
    Piece piece = weighed(density, 27.0, ScaleClass::jeweller, "coins");
    piece.claim = "coin-silver";
    const Verdict v = verdict_of(prepared(), piece, {});
    const std::string text = on_one_line(text_report(built_in_tables(), piece, v, {"0", "", {}}));
    INFO(text);
    CHECK(text.ends_with(on_one_line(v.one_thing) + " "));
    const std::string settles = on_one_line("What would settle it: " + v.claim->would_settle);
    REQUIRE(text.find(settles) != std::string::npos);
    CHECK(text.find(settles, text.find(settles) + 1) == std::string::npos);
  }
}

TEST_CASE("what an unknown drop shows is not used, and is said not to be", "[verdict]")
{
  Piece piece = weighed(10.0, 5.0, ScaleClass::pocket, "relay");
  const Verdict plain = verdict_of(prepared(), piece, {});
  add_answer(built_in_tables(), piece.context.answers, "skin-reagent", "no-reaction");
  const auto said = [](const Verdict& v) {
    return std::any_of(v.warnings.begin(), v.warnings.end(),
                       [](const std::string& warning) { return warning.find("is not used") != std::string::npos; });
  };
  CHECK_FALSE(said(verdict_of(prepared(), piece, {})));
  piece.context.answers.reagent = "other";
  const Verdict v = verdict_of(prepared(), piece, {});
  double change = 0.0;
  for (std::size_t i = 0; i < v.analysis.posterior.size(); ++i) {
    change = std::max(change, std::abs(v.analysis.posterior[i] - plain.analysis.posterior[i]));
  }
  CHECK(change < 1e-9);
  CHECK(v.remains.empty());
  CHECK(said(v));
}

// Common practice, no source: sides that look alike have one colour.
TEST_CASE("sides that look alike contradict a skin and a back of two colours", "[verdict]")
{
  const auto conflicts = [](const char* skin, const char* back, const char* sides) {
    Piece piece = weighed(8.9, 10.0, ScaleClass::pocket, "connector");
    add_answer(built_in_tables(), piece.context.answers, "skin-colour", skin);
    add_answer(built_in_tables(), piece.context.answers, "back-colour", back);
    add_answer(built_in_tables(), piece.context.answers, "sides", sides);
    return testing::joined(verdict_of(prepared(), piece, {}).conflicts);
  };
  const std::string both = "sides = alike, skin-colour = white and back-colour = copper contradict each other";
  CHECK(conflicts("white", "copper", "alike").find(both) != std::string::npos);
  for (const auto& [skin, back, sides] :
       {std::tuple{"white", "copper", "differ"}, {"white", "grey", "alike"}, {"copper", "copper", "alike"}}) {
    CHECK(conflicts(skin, back, sides).find("sides = ") == std::string::npos);
  }
}

TEST_CASE("a piece that lies on the bottom is to be hung", "[verdict]")
{
  Piece piece = weighed(10.4, 4.21, ScaleClass::pocket, "relay");
  piece.weighing.readings.rise_g = {4.21};
  CHECK(verdict_of(prepared(), piece, {}).one_thing.find("Hang it on a thread") == 0);
}
