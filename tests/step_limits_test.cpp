#include "bilancetta/step_limits.hpp"

#include <map>
#include <string>

#include "bilancetta/batch.hpp"
#include "bilancetta/report.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;

namespace
{

StepLimits limits(const std::map<std::string, double>& hazards)
{
  return step_limits([&](std::string_view key) {
    const auto one = hazards.find(std::string(key));
    return one == hazards.end() ? 0.0 : one->second;
  });
}

std::vector<std::string> allowed(const StepLimits& limits)
{
  std::vector<std::string> keys;
  for (const BenchTest& test : built_in_tables().tests) {
    if (limits.allows(test)) {
      keys.push_back(test.key);
    }
  }
  return keys;
}

bool among(const std::vector<std::string>& keys, const char* key)
{
  return std::find(keys.begin(), keys.end(), key) != keys.end();
}

const Prepared& prepared()
{
  static const Prepared all(built_in_tables());
  return all;
}

Piece piece_of(double dry_g, double rise_g, const char* place,
               const std::vector<std::pair<const char*, const char*>>& answers)
{
  Piece piece;
  piece.weighing = rise_weighing(dry_g, rise_g, scale_of(ScaleClass::jeweller));
  piece.weighing.surroundings.wetting = Wetting::soaped;
  piece.context.place = place;
  piece.context.form = place_called(built_in_tables(), place).form;
  for (const auto& [test, answer] : answers) {
    add_answer(built_in_tables(), piece.context.answers, test, answer);
  }
  return piece;
}

}  // namespace

// No outside source: the table of docs/method.md section 12.
TEST_CASE("what a piece may hold limits what it is put to", "[step_limits]")
{
  CHECK(allowed(limits({})).size() == built_in_tables().tests.size());
  CHECK(allowed(limits({{"lead", 1.0}, {"nickel", 1.0}})).size() == built_in_tables().tests.size());

  for (const char* filed : {"notch-colour", "notch-reagent", "file"}) {
    CHECK_FALSE(among(allowed(limits({{"cadmium", 0.1}})), filed));
    CHECK(among(allowed(limits({{"cadmium", 0.099}})), filed));
    CHECK_FALSE(among(allowed(limits({{"beryllium", 0.02}})), filed));
    CHECK_FALSE(among(allowed(limits({{"magnesium", 0.1}})), filed));
  }
  for (const char* drop : {"skin-reagent", "back-reagent"}) {
    CHECK(among(allowed(limits({{"cadmium", 0.49}})), drop));
    CHECK_FALSE(among(allowed(limits({{"cadmium", 0.5}})), drop));
    CHECK(among(allowed(limits({{"beryllium", 0.09}})), drop));
    CHECK_FALSE(among(allowed(limits({{"beryllium", 0.1}})), drop));
    CHECK_FALSE(among(allowed(limits({{"magnesium", 0.1}})), drop));
  }
  const StepLimits bulb = limits({{"mercury", 0.02}});
  for (const char* harmful : {"notch-colour", "notch-reagent", "file", "paper", "skin-reagent", "back-reagent"}) {
    CHECK_FALSE(among(allowed(bulb), harmful));
  }
  for (const char* harmless : {"magnet", "skin-colour", "back-colour", "sides", "conductivity"}) {
    CHECK(among(allowed(bulb), harmless));
  }
  CHECK(bulb.wets);
  CHECK_FALSE(limits({{"mercury", 0.1}}).wets);
}

// 5.12 g per cm3 is what a sealed part of glass, mercury and wire may have; amalgam has 11.3 (tables/README.md).
TEST_CASE("a part that may be a bulb of mercury is not wetted, rubbed or dissolved again", "[step_limits]")
{
  const Piece piece = piece_of(5.12, 1.0, "switch", {});
  const Verdict v = verdict_of(prepared(), piece, {});
  REQUIRE(warns_of(v.cautions, "mercury"));
  REQUIRE_FALSE(limits_of(v.cautions).wets);
  CHECK(v.remedy.words.empty());
  CHECK(contains(v.one_thing, "holds mercury"));
  for (const NextTest& step : v.next) {
    INFO(step.key);
    CHECK_FALSE(step.is_weighing);
    CHECK(limits_of(v.cautions).allows(test_called(built_in_tables(), step.key)));
  }
  const std::string text = text_report(built_in_tables(), piece, v, {"0", "", {}});
  CHECK_FALSE(contains(text, "like pieces"));
}

TEST_CASE("an answer that would harm is not to be tried again", "[step_limits]")
{
  // Copper-coloured and of the density of beryllium copper (8.25 g/cm3, UNS C17200, Copper Development Association).
  const Piece piece = piece_of(3.1, 0.375, "relay",
                               {{"magnet", "no-pull"}, {"skin-colour", "copper"}, {"notch-reagent", "bright-red"}});
  const Verdict v = verdict_of(prepared(), piece, {});
  REQUIRE(warns_of(v.cautions, "beryllium"));
  REQUIRE_FALSE(v.conflicts.empty());
  for (const std::string& conflict : v.conflicts) {
    if (contains(conflict, "notch-reagent")) {
      CHECK_FALSE(contains(conflict, "try"));
      CHECK(contains(conflict, "do not repeat"));
    }
  }
}

// Zinc and cadmium plate on switchgear is chromated as often as not (common practice, no source).
TEST_CASE("a yellow skin on magnetic hardware of switchgear makes cadmium no less likely", "[step_limits]")
{
  for (const char* place : {"contactor", "breaker", "starter"}) {
    const auto cadmium = [&](const std::vector<std::pair<const char*, const char*>>& answers) {
      const Verdict v = verdict_of(prepared(), piece_of(5.0, 0.635, place, answers), {});
      const auto shown =
          std::find_if(v.cautions.begin(), v.cautions.end(), [](const CautionShown& c) { return c.key == "cadmium"; });
      return shown == v.cautions.end() ? 0.0 : shown->probability;
    };
    CHECK(cadmium({{"magnet", "strong"}, {"skin-colour", "yellow"}}) > cadmium({{"magnet", "strong"}}));
  }
}

TEST_CASE("a drop is proposed for no hundredth of a bit, and with the caution of cadmium where that is plausible",
          "[step_limits]")
{
  int proposed = 0;
  for (const double rise_g : {0.30, 0.48, 0.50, 0.53, 0.56, 0.6, 1.85}) {
    for (const char* place : {"contactor", "relay", "board", "connector"}) {
      const Verdict v = verdict_of(prepared(), piece_of(5.0, rise_g, place, {}), {});
      for (const NextTest& step : v.next) {
        if (!step.is_weighing && is_drop(test_called(built_in_tables(), step.key))) {
          ++proposed;
          CHECK(step.bits >= 0.1);
          CHECK((!warns_of(v.cautions, "cadmium") || step.caution() == "cadmium"));
        }
      }
    }
  }
  CHECK(proposed > 5);
}

// AZ91, 1.81 g/cm3 (from memory).
TEST_CASE("magnesium is warned of and neither filed nor dissolved", "[step_limits]")
{
  const Verdict v = verdict_of(prepared(), piece_of(10.0, 5.6, "unknown", {{"magnet", "no-pull"}}), {});
  CHECK(warns_of(v.cautions, "magnesium"));
  for (const NextTest& step : v.next) {
    CHECK((step.is_weighing || limits_of(v.cautions).allows(test_called(built_in_tables(), step.key))));
  }
}

TEST_CASE("a meter is held to no crumb", "[step_limits]")
{
  const auto asks = [](double dry_g, double rise_g) {
    const Verdict v = verdict_of(prepared(), piece_of(dry_g, rise_g, "relay", {{"magnet", "no-pull"}}), {});
    return std::any_of(v.next.begin(), v.next.end(), [](const NextTest& step) { return step.key == "conductivity"; });
  };
  CHECK(asks(5.0, 0.5));
  CHECK_FALSE(asks(0.5, 0.05));
}
