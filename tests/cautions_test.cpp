#include <algorithm>
#include <regex>

#include "bilancetta/report.hpp"
#include "bilancetta/verdict.hpp"
#include "report_words.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;

namespace
{

const Prepared& prepared()
{
  static const Prepared all(built_in_tables());
  return all;
}

Piece piece_of(double density, const std::string& place, double dry_g = 5.0)
{
  Piece piece;
  piece.context.place = place;
  piece.context.form = place_called(built_in_tables(), place).form;
  piece.weighing.scale = scale_of(ScaleClass::jeweller);
  piece.weighing.surroundings.wetting = Wetting::boiled;
  const double air = air_density_g_cm3({});
  piece.weighing.readings.dry_g = {dry_g};
  piece.weighing.readings.rise_g = {std::round(1000 * dry_g * (water_density_g_cm3(20.0) - air) / (density - air)) /
                                    1000};
  return piece;
}

const CautionShown* shown(const std::vector<CautionShown>& cautions, const std::string& key)
{
  const auto match = std::find_if(cautions.begin(), cautions.end(), [&](const auto& c) { return c.key == key; });
  return match == cautions.end() ? nullptr : &*match;
}

const CautionShown* shown(const Verdict& v, const std::string& key)
{
  return shown(v.cautions, key);
}

// The whole inference, without what a verdict says besides.
Analysis analysis_of(const Piece& piece)
{
  Analysis analysis = weigh_up(piece.weighing, 0.95);
  const Members& members = prepared().members(coat_volume_cm3(analysis, piece.weighing));
  hold_against(analysis, members, background_of(prepared(), members, piece.context), true);
  return analysis;
}

std::vector<CautionShown> cautions_for(const Piece& piece)
{
  return cautions_of(built_in_tables(), analysis_of(piece), piece);
}

// Heat, grinding or dissolving as something to do.
bool proposes_harm(const std::string& text)
{
  static const std::regex harm(
      "\\b(heat|heats|heated|heating|melt|melts|melted|melting|torch|flame|burn|ignite|solder|grind|grinding|sand|"
      "sanding|"
      "saw|drill|dissolve|dissolves|dissolving|immerse in acid|boil the piece|pickle)\\b",
      std::regex::icase);
  return std::regex_search(text, harm);
}

}  // namespace

TEST_CASE("every caution is short, cites a document and defers to local or licensed practice", "[cautions]")
{
  const Tables& tables = built_in_tables();
  for (const Caution& caution : tables.cautions) {
    INFO(caution.key);
    CHECK(caution.text.size() <= 220);
    CHECK((contains(caution.text, "local") || contains(caution.text, "licensed") || contains(caution.text, "office")));
    const auto source = std::find_if(tables.sources.begin(), tables.sources.end(),
                                     [&](const Source& one) { return one.key == caution.origin.source; });
    REQUIRE(source != tables.sources.end());
    CHECK_FALSE(source->title.empty());
    // No figure without a document that was read.
    if (caution.origin.provenance != Provenance::looked_up) {
      CHECK_FALSE(std::regex_search(caution.text, std::regex("[0-9]")));
    }
  }
}

TEST_CASE("no step proposes heat, grinding or dissolving", "[cautions]")
{
  REQUIRE(proposes_harm("Melt a little of it and look at the fume."));
  REQUIRE(proposes_harm("Grind a flat on the edge."));
  for (const BenchTest& test : built_in_tables().tests) {
    INFO(test.key << ": " << test.step);
    CHECK_FALSE(proposes_harm(test.step));
  }
  for (const double density : {1.7, 2.7, 4.5, 7.3, 8.25, 8.5, 8.94, 9.6, 10.1, 10.5, 11.3, 13.5, 15.0, 19.3, 21.4}) {
    for (const Place& place : built_in_tables().places) {
      const Verdict v = verdict_of(prepared(), piece_of(density, place.key), {});
      for (const NextTest& n : v.next) {
        INFO(n.step);
        CHECK_FALSE(proposes_harm(n.step));
      }
      INFO(v.remedy.words);
      CHECK_FALSE(proposes_harm(v.remedy.words));
    }
  }
}

TEST_CASE("stop stands at the top, notes at the foot, care before the next step", "[cautions]")
{
  Piece piece = piece_of(10.0, "breaker");
  add_answer(built_in_tables(), piece.context.answers, "skin-reagent", "red");
  const Verdict v = verdict_of(prepared(), piece, {});
  const std::string text = text_report(built_in_tables(), piece, v, {"0", "", {}});
  const auto at = [&](const char* part) { return text.find(part); };
  REQUIRE(at("STOP  cadmium") != std::string::npos);
  REQUIRE(at("Note  asbestos") != std::string::npos);
  REQUIRE(at("Care  chromium-vi") != std::string::npos);
  CHECK(at("STOP  cadmium") < at("Density"));
  CHECK(at("Note  asbestos") > at("Mass"));
  CHECK(at("Care  chromium-vi") > at("Pile:"));
  CHECK(at("Care  chromium-vi") < at("\nNext:"));
  CHECK(contains(text, "29 CFR 1910.1027"));
}

TEST_CASE("a verdict shows the cautions of its inference, with their probabilities", "[cautions]")
{
  const Piece piece = piece_of(10.0, "contactor");
  const std::vector<CautionShown> inferred = cautions_for(piece);
  const Verdict v = verdict_of(prepared(), piece, {});
  REQUIRE(inferred.size() == v.cautions.size());
  REQUIRE_FALSE(inferred.empty());
  for (const CautionShown& one : inferred) {
    REQUIRE(shown(v, one.key) != nullptr);
    CHECK(shown(v, one.key)->probability == one.probability);
  }
}

TEST_CASE("a hazard of the place is a note without a probability", "[cautions]")
{
  const Verdict v = verdict_of(prepared(), piece_of(8.94, "breaker"), {});
  const CautionShown* asbestos = shown(v, "asbestos");
  REQUIRE(asbestos != nullptr);
  CHECK(asbestos->urgency == Urgency::note);
  CHECK(asbestos->probability < 0.0);
}

TEST_CASE("a note is told in its first sentence, also if it has no other", "[cautions]")
{
  Verdict v;
  const auto told = [&](const char* text) {
    v.cautions = {{"my-hazard", Urgency::note, "", text, 0.99, "a book"}};
    return note_lines(v);
  };
  CHECK(contains(told("Wear gloves with it."), "Note  my-hazard (99 % likely): Wear gloves with it.\n"));
  CHECK(contains(told("Wear gloves with it"), "Note  my-hazard (99 % likely): Wear gloves with it\n"));
  CHECK(contains(told("Wear gloves. Wash them."), "Note  my-hazard (99 % likely): Wear gloves.\n"));
  CHECK(contains(told("Wear gloves."), "come first [a book]."));
  v.cautions[0].source = "";
  CHECK(contains(note_lines(v), "come first.\n"));
}

// docs/method.md, section 13.
TEST_CASE("a caution of what the piece may be is shown from a probability of 2 % on", "[cautions]")
{
  const Tables& tables = built_in_tables();
  int just_shown = 0;
  int just_not_shown = 0;
  for (const char* place : {"connector", "contactor", "tableware"}) {
    for (int quarter = 0; quarter < 24; ++quarter) {
      const double density = 7.0 + 0.25 * quarter;
      const Piece piece = piece_of(density, place);
      const Analysis analysis = analysis_of(piece);
      const std::vector<double> probability = hazard_probabilities(tables, analysis);
      const std::vector<CautionShown> cautions = cautions_of(tables, analysis, piece);
      for (std::size_t k = 0; k < tables.cautions.size(); ++k) {
        const CautionShown* one = shown(cautions, tables.cautions[k].key);
        INFO(tables.cautions[k].key << " at " << density << " from " << place << ": " << probability[k]);
        CHECK((one != nullptr && one->probability >= 0.0) == (probability[k] >= 0.02));
        just_shown += probability[k] >= 0.02 && probability[k] < 0.04 ? 1 : 0;
        just_not_shown += probability[k] >= 0.01 && probability[k] < 0.02 ? 1 : 0;
      }
    }
  }
  CHECK(just_shown > 5);
  CHECK(just_not_shown > 5);
}

TEST_CASE("only the chromate drop brings the caution of chromium(VI)", "[cautions]")
{
  Piece piece = piece_of(10.49, "unknown");
  add_answer(built_in_tables(), piece.context.answers, "skin-reagent", "red");
  CHECK(shown(verdict_of(prepared(), piece, {}), "chromium-vi") != nullptr);
  piece.context.answers.reagent = "nitric";
  const Verdict nitric = verdict_of(prepared(), piece, {});
  CHECK(shown(nitric, "chromium-vi") == nullptr);
  CHECK(shown(nitric, "acid") != nullptr);
}

// Brute force: every remaining test is answered in every way, and the whole inference run anew. Where
// beryllium is plausible, or cadmium as likely as on the suspects' pile (10 %), a file is no test.
TEST_CASE("cadmium is said to stay only where no answer at the bench would take it below 2 %", "[cautions]")
{
  const Tables& tables = built_in_tables();
  int stays = 0;
  int leaves = 0;
  int unexplained = 0;
  for (const double density : {8.5, 8.8, 9.6, 10.0, 10.3, 19.5}) {
    const Piece piece = piece_of(density, "contactor", density > 19.0 ? 60.0 : 5.0);
    const Verdict v = verdict_of(prepared(), piece, {});
    unexplained += v.analysis.explained ? 0 : 1;
    const CautionShown* cadmium = shown(v, "cadmium");
    if (!cadmium) {
      continue;
    }
    double lowest = 1.0;
    const bool unfiled = shown(v, "beryllium") != nullptr || cadmium->probability >= 0.1;
    for (const BenchTest& test : tables.tests) {
      if (unfiled && files(test)) {
        continue;
      }
      for (const std::string& answer : possible_answers(test)) {
        Piece answered = piece;
        add_answer(tables, answered.context.answers, test.key, answer);
        const std::vector<CautionShown> then = cautions_for(answered);
        const CautionShown* still = shown(then, "cadmium");
        lowest = std::min(lowest, still ? still->probability : 0.0);
      }
    }
    INFO(density << " lowest " << lowest);
    const bool said = contains(cadmium->text, unfiled ? "No test that is safe to make can exclude it."
                                                      : "No test at the bench can exclude it.");
    if (std::abs(lowest - 0.02) > 0.002) {  // at the edge the cut of the plausible may decide
      CHECK(said == (lowest >= 0.02));
    }
    stays += said ? 1 : 0;
    leaves += said ? 0 : 1;
  }
  CHECK(stays > 0);
  CHECK(leaves > 0);
  CHECK(unexplained == 1);
}

// A film on silver is no pile of its own, and what the scale cannot see is on none.
TEST_CASE("a piece lies on the pile of what carries its mass", "[cautions]")
{
  const Tables& t = built_in_tables();
  const auto pile_of_plated = [&](const char* coat, const char* core) {
    for (std::size_t row = 0; row < t.builds.size(); ++row) {
      const auto has = [](const std::vector<int>& all, int one) {
        return std::find(all.begin(), all.end(), one) != all.end();
      };
      const int outer = find_material(t, coat), inner = find_material(t, core);
      if (t.builds[row].build == Build::plated && has(t.builds[row].outer, outer) && has(t.builds[row].inner, inner)) {
        return name_of(pile_for(t, layered_hypothesis(t, static_cast<int>(row), outer, inner, {})));
      }
    }
    return std::string_view("no such build");
  };
  CHECK(pile_of_plated("rhodium", "fine-silver") == "solid-silver");
  CHECK(pile_of_plated("au-co-hard", "ag-ni-10") == "solid-silver");
  CHECK(pile_of_plated("au-co-hard", "pd-ag-60") == "other-precious");
  CHECK(pile_of_plated("au-co-hard", "c51000") == "other-precious");
  CHECK(pile_of_plated("fine-silver", "c26000") == "silver-on-base");
  CHECK(pile_for(t, solid_hypothesis(t, find_material(t, "mercury-bulb"))) == Pile::undecided);
  CHECK(unless_doubtful(Pile::solid_silver, false, false, false) == Pile::undecided);
  CHECK(unless_doubtful(Pile::cadmium_suspect, false, false, false) == Pile::cadmium_suspect);
  CHECK(unless_doubtful(Pile::solid_silver, false, false, true) == Pile::solid_silver);
}

// The typical fraction counts, from the limit on (docs/cautions.md).
TEST_CASE("a hazard counts by the typical fraction, also just at its limit", "[cautions]")
{
  Caution caution;
  caution.key = "dust";
  caution.counts_from = 0.05;
  caution.constituents = {7};
  const auto counts = [&](const Range& fraction, int constituent = 7) {
    Material material;
    material.components = {{1, {0.5, 0.9, 1.0}}, {constituent, fraction}};
    return counts_for(caution, material);
  };
  CHECK(counts({0.01, 0.05, 0.06}));
  CHECK(counts({0.0, 0.2, 0.3}));
  CHECK_FALSE(counts({0.01, 0.049, 0.2}));
  CHECK_FALSE(counts({0.01, 0.2, 0.3}, 6));
  Material listed;
  listed.cautions = {"dust"};
  CHECK(counts_for(caution, listed));
}

TEST_CASE("brazing alloys are no silver, and silver-palladium is another precious metal", "[cautions]")
{
  const Tables& t = built_in_tables();
  int brazes = 0;
  for (int m = 0; m < static_cast<int>(t.materials.size()); ++m) {
    INFO(t.materials[m].key);
    if (t.materials[m].group == "silver-braze") {
      CHECK(pile_for(t, solid_hypothesis(t, m)) == Pile::base_metal);
      ++brazes;
    }
    if (t.materials[m].group == "silver-palladium") {
      CHECK(pile_for(t, solid_hypothesis(t, m)) == Pile::other_precious);
    }
  }
  CHECK(brazes > 5);
}
