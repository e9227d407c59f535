#include "bilancetta/piece_text.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "support.hpp"

using namespace bilancetta;
using namespace testing;
using Catch::Matchers::WithinAbs;

namespace
{

const Tables& tables()
{
  return built_in_tables();
}

PieceText piece(std::initializer_list<std::pair<Field, std::string>> cells)
{
  PieceText text;
  text[Field::dry_g] = "5.00";
  text[Field::rise_g] = "0.48";
  for (const auto& [field, cell] : cells) {
    text[field] = cell;
  }
  return text;
}

PieceRead read(const PieceText& text)
{
  return piece_from(tables(), text, finest_decimals(text));
}

Refusal refused(std::initializer_list<std::pair<Field, std::string>> cells)
{
  return refusal_of([&] { read(piece(cells)); });
}

}  // namespace

TEST_CASE("every field has a name of its own that finds it again", "[piece_text]")
{
  for (int i = 0; i < field_count; ++i) {
    const auto field = static_cast<Field>(i);
    INFO(name_of(field));
    REQUIRE(field_called(name_of(field)).has_value());
    CHECK(*field_called(name_of(field)) == field);
  }
  CHECK(field_called("Dry G") == Field::dry_g);
  CHECK(field_called("skin-colour") == Field::skin_colour);
  CHECK(field_called("RISE_G ") == Field::rise_g);
  CHECK_FALSE(field_called("weight").has_value());
  CHECK_FALSE(field_called("").has_value());
}

TEST_CASE("a scale told by its step alone errs in proportion", "[piece_text]")
{
  // The step that the typed decimals tell, told by the option: the same scale. Others lie between the classes.
  const PieceText typed = piece({{Field::dry_g, "20.5"}, {Field::rise_g, "2.0"}});
  CHECK(read(piece({{Field::readability_g, "0.1"}})).piece.weighing.scale == read(typed).piece.weighing.scale);
  CHECK(read(piece({{Field::readability_g, "0.001"}})).piece.weighing.scale == scale_of(ScaleClass::jeweller));
  const Scale halves = read(piece({{Field::readability_g, "0.05"}})).piece.weighing.scale;
  CHECK_THAT(halves.repeatability_g, WithinAbs(0.020, 1e-12));
  CHECK_THAT(halves.linearity_g, WithinAbs(0.025, 1e-12));
  CHECK(
      read(piece({{Field::readability_g, "0.1"}, {Field::repeatability_g, "0.01"}})).piece.weighing.scale.linearity_g ==
      0.05);
}

TEST_CASE("the dry scale is told by what it read, and the water by the filling that the piece lies in", "[piece_text]")
{
  const PieceText two = piece({{Field::dry_g, "2.01"}, {Field::rise_g, "0.2000"}, {Field::liquid_scale, "laboratory"}});
  CHECK(finest_decimals(two) == 2);
  CHECK(read(two).piece.weighing.scale == scale_of(ScaleClass::pocket));
  PieceText bottle = piece({{Field::bottle_full_g, "60.000"}, {Field::bottle_with_piece_g, "64.50"}});
  bottle[Field::rise_g] = "";
  bottle[Field::bottle_c] = bottle[Field::bottle_with_piece_c] = "30";
  CHECK(read(bottle).piece.weighing.surroundings.water_c == 30.0);
  CHECK(read(bottle).piece.weighing.surroundings.water_c_u == 1.0);
  CHECK(refused({{Field::reference_density, "8.93"}, {Field::reference_density_u, "-7"}}).field ==
        "reference_density_u");
}

TEST_CASE("every bench test has the field of its name, and no other name has one", "[piece_text]")
{
  for (const std::string_view key : bench_test_keys) {
    INFO(key);
    REQUIRE(field_of_test(key).has_value());
    const std::string column(name_of(*field_of_test(key)));
    CHECK(field_called(key == "conductivity" ? "conductivity_iacs" : key) == field_called(column));
    CHECK(std::count_if(tables().tests.begin(), tables().tests.end(), [&](const auto& t) { return t.key == key; }) ==
          1);
  }
  CHECK(tables().tests.size() == bench_test_keys.size());
  CHECK_FALSE(field_of_test("ring").has_value());
  CHECK_FALSE(field_of_test("dry_g").has_value());
}

TEST_CASE("decimals are those of the finest number", "[piece_text]")
{
  CHECK(decimals_of("5.00") == 2);
  CHECK(decimals_of("5") == 0);
  CHECK(decimals_of("5.") == 0);
  CHECK(decimals_of("5.1 5.12 5.123") == 3);
  CHECK(decimals_of("-0.01") == 2);
  CHECK(decimals_of("+5.00") == 2);
  CHECK(decimals_of("") == 0);
  PieceText text;
  text[Field::dry_g] = "5.0";
  text[Field::rise_g] = "0.480";
  text[Field::thread_mm] = "0.12345";  // no reading of the scale
  CHECK(finest_decimals(text) == 3);
}

// An exponent moves the point: 4.8e-1 is no laboratory reading, and 5e-3 none of a kitchen scale.
TEST_CASE("decimals of a number with an exponent", "[piece_text]")
{
  CHECK(decimals_of("4.8e-1") == 2);
  CHECK(decimals_of("5e-3") == 3);
}

// What a spreadsheet has worked out in binary is no laboratory reading.
TEST_CASE("digits that no scale shows are rounding errors", "[piece_text]")
{
  CHECK(decimals_of("0.30000000000000004") == 1);
  CHECK(decimals_of("4.2099999999999997") == 2);
  CHECK(decimals_of("5.000000000000000") == 0);
  CHECK(decimals_of("5.000001") == 6);
}

TEST_CASE("readings and their repeats arrive as numbers", "[piece_text]")
{
  const PieceRead r = read(piece({{Field::dry_g, "5.00 5.01  5.02"},
                                  {Field::rise_g, "+0.48\t0.49"},
                                  {Field::count, "3"},
                                  {Field::piece, "from the jar"}}));
  CHECK(r.piece.weighing.readings.dry_g == std::vector<double>{5.00, 5.01, 5.02});
  CHECK(r.piece.weighing.readings.rise_g == std::vector<double>{0.48, 0.49});
  CHECK(r.piece.weighing.count == 3);
  CHECK(r.piece.name == "from the jar");
}

// A blank that separated thousands gave the mean of 1 and 234.50, and the row was in order (2026-11-30).
TEST_CASE("readings too far apart to be repeats are refused", "[piece_text]")
{
  struct Slip {
    Field field;
    const char* typed;
    const char* told;
  };
  const char* const check_points = "Check the decimal points, and give readings of one piece only";
  const Slip slips[] = {{Field::dry_g, "1 234.50", "If the blank separates thousands, write 1234.50"},
                        {Field::dry_g, "1 234", "If the blank separates thousands, write 1234"},
                        {Field::dry_g, "1 006", "If the blank separates thousands, write 1006"},
                        {Field::dry_g, "1 001.00", "If the blank separates thousands, write 1001.00"},
                        {Field::dry_g, "12 034 567.5", "If the blank separates thousands, write 12034567.5"},
                        {Field::rise_g, "1 118.75", "If the blank separates thousands, write 1118.75"},
                        {Field::dry_g, "5.00 0.50", check_points},
                        {Field::dry_g, "5.00 5.01 50.1", check_points},
                        {Field::rise_g, "0.48 4.80", check_points}};
  for (const Slip& slip : slips) {
    INFO(slip.typed);
    const Refusal r = refused({{slip.field, slip.typed}});
    CHECK(r.code == ErrorCode::bad_reading);
    CHECK(r.field == name_of(slip.field));
    CHECK(contains(r.message, slip.told));
  }
  CHECK(contains(refused({{Field::dry_g, "1 234.50"}}).message, "dry_g: 1 and 234.50 are no repeats of one reading."));
  CHECK(contains(refused({{Field::dry_g, "5.00 0.50 5.01"}}).message, "dry_g: 0.50 and 5.01 are no repeats"));
  PieceText hung = piece({{Field::rise_g, ""}, {Field::submerged_g, "4.52 45.2"}});
  CHECK(refusal_of([&] { read(hung); }).field == "submerged_g");
}

TEST_CASE("repeats may differ by a fifth of the smallest", "[piece_text]")
{
  CHECK_NOTHROW(read(piece({{Field::dry_g, "5.00 5.99"}})));
  CHECK(contains(refused({{Field::dry_g, "5.00 6.10"}}).message, "5.00 and 6.10 are no repeats"));
  CHECK(contains(refused({{Field::dry_g, "5.20 6.10 5.00"}}).message, "6.10 and 5.00 are no repeats"));
}

TEST_CASE("repeats of a coarse scale, of a small piece and of bubbles that leave are no slips", "[piece_text]")
{
  const char* const rises[] = {"0.01 0.02", "0.00 0.03", "-0.01 0.02", "0.40 0.50 0.60", "0.0200 0.0290"};
  for (const char* rise : rises) {
    INFO(rise);
    CHECK_NOTHROW(read(piece({{Field::rise_g, rise}})));
  }
  CHECK_NOTHROW(read(piece({{Field::dry_g, "101 103"}, {Field::rise_g, "10"}})));
  CHECK_NOTHROW(read(piece({{Field::dry_g, "999 1001"}, {Field::rise_g, "99"}})));
  CHECK_NOTHROW(read(piece({{Field::dry_g, "1 2"}, {Field::rise_g, "0"}})));
  // What the user says of the scale counts.
  CHECK_NOTHROW(read(piece({{Field::dry_g, "5.00 6.50"}, {Field::repeatability_g, "0.5"}})));
}

TEST_CASE("a number with its unit or a blank in it is quoted whole, with what to write", "[piece_text]")
{
  struct Cell {
    Field field;
    const char* typed;
    const char* told;
  };
  const Cell cells[] = {
      {Field::dry_g, "5.00 g", "\"5.00 g\" is not a number; leave the unit out and write grams, like 12.345"},
      {Field::dry_g, "5.00g 5.01g", "\"5.00g 5.01g\" is not a number; leave the unit out and write grams"},
      {Field::dry_g, "0.005 kg", "leave the unit out and write grams"},
      {Field::water_c, "21 \u00B0C", "\"21 \u00B0C\" is not a number; leave the unit out and write degrees Celsius"},
      {Field::air_rh, "50 %", "leave the unit out and write the number alone"},
      {Field::liquid_density, "0.79 g/cm3", "leave the unit out and write g/cm3"},
      {Field::dry_g, "heavy", "\"heavy\" is not a number; write it like 12.345, with a point and no unit"},
      {Field::dry_g, "5.00/5.01", "write it like 12.345"},
      {Field::dry_g, "1,234.50", "with one decimal sign and none for thousands"},
      {Field::reference_mass_g, "1 234.50",
       "\"1 234.50\" is not a number; if the blank separates thousands, write 1234.50"},
      {Field::count, "1 000", "if the blank separates thousands, write 1000"},
      {Field::reference_mass_g, "12.50 12.51", "write it like"}};
  for (const Cell& cell : cells) {
    INFO(cell.typed);
    const Refusal r = refused({{cell.field, cell.typed}});
    CHECK(r.code == ErrorCode::bad_option);
    CHECK(r.field == name_of(cell.field));
    CHECK(contains(r.message, cell.told));
  }
  CHECK(refused({{Field::dry_g, std::string(100000, 'x')}}).message.size() < 200);
}

TEST_CASE("a blank that breaks no line is a blank around a number and none in it", "[piece_text]")
{
  for (const char* blank : {"\u00A0", "\u202F", "\u2009", " "}) {
    INFO(blank);
    const PieceText around = piece({{Field::dry_g, fmt::format("{0}5.00{0}", blank)},
                                    {Field::reference_mass_g, fmt::format("{0}5.01{0}", blank)}});
    const std::string thousands = fmt::format("1{}234.50", blank);
    CHECK(read(around).piece.weighing.readings.dry_g == std::vector<double>{5.00});
    CHECK(read(around).piece.reference_mass_g == 5.01);
    CHECK(finest_decimals(around) == 2);
    CHECK(contains(refused({{Field::dry_g, thousands}}).message, "write 1234.50"));
    CHECK(contains(refused({{Field::reference_mass_g, thousands}}).message, "write 1234.50"));
  }
}

TEST_CASE("every setting of the surroundings and of the scale reaches the weighing", "[piece_text]")
{
  struct Setting {
    Field field;
    const char* text;
    double (*value)(const Weighing& w);
    double expected;
  };
  const Setting settings[] = {
      {Field::water_c, "25.5", [](const Weighing& w) { return w.surroundings.water_c; }, 25.5},
      {Field::water_c_u, "0.25", [](const Weighing& w) { return w.surroundings.water_c_u; }, 0.25},
      {Field::liquid_density, "0.789", [](const Weighing& w) { return *w.surroundings.liquid_density_g_cm3; }, 0.789},
      {Field::air_c, "31", [](const Weighing& w) { return w.surroundings.air.air_c; }, 31.0},
      {Field::air_hpa, "950", [](const Weighing& w) { return w.surroundings.air.air_hpa; }, 950.0},
      {Field::air_rh, "80", [](const Weighing& w) { return w.surroundings.air.air_rh; }, 80.0},
      {Field::thread_mm, "0.25", [](const Weighing& w) { return w.surroundings.thread_mm; }, 0.25},
      {Field::cup_mm, "45", [](const Weighing& w) { return w.surroundings.cup_mm; }, 45.0},
      {Field::evaporation_g, "0.003", [](const Weighing& w) { return w.surroundings.evaporation_g; }, 0.003},
      {Field::span_u, "0.002", [](const Weighing& w) { return w.span_u; }, 0.002},
      {Field::readability_g, "0.02", [](const Weighing& w) { return w.scale.readability_g; }, 0.02},
      {Field::repeatability_g, "0.03", [](const Weighing& w) { return w.scale.repeatability_g; }, 0.03},
      {Field::linearity_g, "0.04", [](const Weighing& w) { return w.scale.linearity_g; }, 0.04},
      {Field::drift_g, "0.05", [](const Weighing& w) { return w.scale.drift_g; }, 0.05}};
  for (const Setting& setting : settings) {
    INFO(name_of(setting.field));
    CHECK(setting.value(read(piece({{setting.field, setting.text}})).piece.weighing) == setting.expected);
  }
  const PieceText alcohol = piece({{Field::liquid_density, "0.789"}, {Field::liquid_density_u, "0.001"}});
  CHECK(read(alcohol).piece.weighing.surroundings.liquid_density_u_g_cm3 == 0.001);
}

TEST_CASE("every yes or no reaches the weighing", "[piece_text]")
{
  struct Setting {
    Field field;
    bool (*value)(const PieceRead& r);
    bool expected;
  };
  const Setting settings[] = {
      {Field::tap_water, [](const PieceRead& r) { return r.piece.weighing.surroundings.tap_water; }, true},
      {Field::air_free, [](const PieceRead& r) { return r.piece.weighing.surroundings.air_free; }, true},
      {Field::tare_rounded, [](const PieceRead& r) { return r.piece.weighing.surroundings.tare_rounded; }, true},
      {Field::thread_not_tared, [](const PieceRead& r) { return r.piece.weighing.surroundings.thread_tared; }, false},
      {Field::as_typed, [](const PieceRead& r) { return r.piece.weighing.as_typed; }, true},
      {Field::mixed, [](const PieceRead& r) { return r.mixed; }, true},
      {Field::even_odds, [](const PieceRead& r) { return r.piece.context.even_odds; }, true},
      {Field::reagent_checked, [](const PieceRead& r) { return r.piece.context.answers.reagent_checked; }, true}};
  for (const Setting& setting : settings) {
    INFO(name_of(setting.field));
    CHECK(setting.value(read(piece({{setting.field, "yes"}}))) == setting.expected);
    CHECK(setting.value(read(piece({{setting.field, "no"}}))) != setting.expected);
    CHECK(setting.value(read(piece({}))) != setting.expected);
  }
}

TEST_CASE("the scale comes from its name, its step, or the decimals", "[piece_text]")
{
  CHECK(read(piece({})).piece.weighing.scale.readability_g == scale_of(ScaleClass::pocket).readability_g);
  CHECK(read(piece({{Field::scale, "laboratory"}})).piece.weighing.scale.repeatability_g ==
        scale_of(ScaleClass::laboratory).repeatability_g);
  const Scale own = read(piece({{Field::readability_g, "0.002"}, {Field::linearity_g, "0.007"}})).piece.weighing.scale;
  CHECK(own.readability_g == 0.002);
  CHECK(own.linearity_g == 0.007);
  CHECK(read(piece({{Field::dry_g, "5"}, {Field::rise_g, "1"}})).piece.weighing.scale.readability_g == 1.0);
}

TEST_CASE("a drift that is said holds for both scales", "[piece_text]")
{
  PieceText text;
  text[Field::dry_g] = "5.00";
  text[Field::rise_g] = "0.477";
  text[Field::scale] = "pocket";
  text[Field::liquid_scale] = "jeweller";
  text[Field::drift_g] = "0.02";
  const Weighing w = piece_from(built_in_tables(), text, 2).piece.weighing;
  CHECK(w.scale.drift_g == 0.02);
  CHECK(liquid_scale_of(w).drift_g == 0.02);
}

TEST_CASE("defaults that were used are told, given ones are not", "[piece_text]")
{
  const auto tells = [](const PieceRead& r, const std::string& word) {
    return std::any_of(r.assumed.begin(), r.assumed.end(), [&](const std::string& one) { return contains(one, word); });
  };
  const PieceRead bare = read(piece({}));
  CHECK(tells(bare, "scale"));
  CHECK(tells(bare, "water"));
  CHECK(tells(bare, "dunked"));
  const PieceRead full = read(piece({{Field::scale, "pocket"}, {Field::water_c, "21"}, {Field::wetting, "boiled"}}));
  CHECK_FALSE(tells(full, "scale"));
  CHECK_FALSE(tells(full, "water"));
  CHECK_FALSE(tells(full, "dunked"));
  CHECK(full.piece.weighing.surroundings.water_c == 21.0);
  CHECK(full.piece.weighing.surroundings.water_c_u < bare.piece.weighing.surroundings.water_c_u);
  CHECK(tells(read(piece({{Field::skin_reagent, "brown"}})), "chromate"));
  CHECK_FALSE(tells(read(piece({{Field::skin_reagent, "brown"}, {Field::reagent, "nitric"}})), "chromate"));
}

TEST_CASE("what is no number is refused by field and value", "[piece_text]")
{
  for (const std::string word : {"five", "5,00", "nan", "inf", "-inf", "5.0.0", "0x10", "5g", "1e999"}) {
    INFO(word);
    const Refusal r = refused({{Field::dry_g, word}});
    CHECK(r.code == ErrorCode::bad_option);
    CHECK(r.field == "dry_g");
    CHECK(contains(r.message, word));
  }
  CHECK(refused({{Field::water_c, "warm"}}).field == "water_c");
  CHECK(refused({{Field::rise_g, "0.48 x"}}).field == "rise_g");
  CHECK(refused({{Field::cup_before_g, "80 81"}}).field == "cup_before_g");
}

TEST_CASE("unknown words are refused with those that are known", "[piece_text]")
{
  CHECK(refused({{Field::scale, "bathroom"}}).field == "scale");
  CHECK(contains(refused({{Field::scale, "bathroom"}}).message, "jeweller"));
  CHECK(refused({{Field::wetting, "licked"}}).field == "wetting");
  CHECK(refused({{Field::form, "liquid"}}).field == "form");
  CHECK(refused({{Field::reagent, "vinegar"}}).field == "reagent");
  CHECK(refused({{Field::tap_water, "perhaps"}}).field == "tap_water");
  CHECK(contains(refused({{Field::tap_water, "perhaps"}}).message, "yes, y, true, 1, x nor of no, n, false, 0"));
  for (const char* yes : {"yes", "Yes", "YES", "True", "TRUE", "Y", "X", "1"}) {
    CHECK(read(piece({{Field::tap_water, yes}})).piece.weighing.surroundings.tap_water);
  }
  for (const char* no : {"no", "No", "NO", "False", "FALSE", "N", "0"}) {
    CHECK_FALSE(read(piece({{Field::tap_water, no}})).piece.weighing.surroundings.tap_water);
  }
  CHECK(refused({{Field::found, "moon"}}).code == ErrorCode::unknown_key);
  CHECK(refused({{Field::claim, "unobtainium"}}).code == ErrorCode::unknown_key);
  CHECK(refused({{Field::magnet, "sticky"}}).code == ErrorCode::unknown_key);
  CHECK(contains(refused({{Field::magnet, "sticky"}}).message, "weak"));
  CHECK(refused({{Field::conductivity_iacs, "400"}}).code == ErrorCode::bad_option);
}

TEST_CASE("options that contradict each other or stand alone are refused", "[piece_text]")
{
  CHECK(refused({{Field::liquid_density, "0.789"}, {Field::water_c, "20"}}).code == ErrorCode::bad_option);
  CHECK(refused({{Field::liquid_density, "0.789"}, {Field::tap_water, "yes"}}).code == ErrorCode::bad_option);
  CHECK(refused({{Field::liquid_density_u, "0.001"}}).code == ErrorCode::bad_option);
  CHECK(refused({{Field::diameter_mm, "10"}}).code == ErrorCode::bad_option);
  CHECK(refused({{Field::thickness_mm, "2"}}).code == ErrorCode::bad_option);
  for (const Field one_filling : {Field::bottle_c, Field::bottle_with_piece_c}) {
    const Refusal r = refused({{Field::rise_g, ""},
                               {Field::bottle_full_g, "60.00"},
                               {Field::bottle_with_piece_g, "64.52"},
                               {one_filling, "20"}});
    CHECK(r.code == ErrorCode::bad_option);
    CHECK(r.field == "bottle_c");
  }
}

TEST_CASE("sizes and counts outside reason are refused", "[piece_text]")
{
  for (const std::string count : {"0", "-2", "1.5", "1e9"}) {
    INFO(count);
    CHECK(refused({{Field::count, count}}).field == "count");
  }
  CHECK(refused({{Field::area_cm2, "0"}}).field == "area_cm2");
  CHECK(refused({{Field::area_cm2, "-1"}}).field == "area_cm2");
  CHECK(refused({{Field::diameter_mm, "0"}, {Field::thickness_mm, "1"}}).field == "diameter_mm");
}

TEST_CASE("known mass, resting cup, lot and layer are read", "[piece_text]")
{
  const PieceRead r = read(piece({{Field::reference_mass_g, "10"},
                                  {Field::cup_resting_g, "5.01"},
                                  {Field::lot, "relay 7"},
                                  {Field::layer_mm, "0.8"}}));
  CHECK(r.piece.reference_mass_g == 10.0);
  CHECK(r.piece.weighing.readings.cup_resting_g == 5.01);
  CHECK(r.piece.lot == "relay 7");
  CHECK(r.piece.layer_mm == 0.8);
  CHECK(refused({{Field::reference_mass_g, "0"}}).field == "reference_mass_g");
  CHECK(refused({{Field::layer_mm, "-1"}}).field == "layer_mm");
  CHECK(refused({{Field::layer_mm, "101"}}).field == "layer_mm");
}

TEST_CASE("the words of closed lists are taken in any case", "[piece_text]")
{
  const PieceRead r = read(piece({{Field::form, "Solid"},
                                  {Field::reagent, "NITRIC"},
                                  {Field::scale, "Pocket"},
                                  {Field::liquid_scale, "JEWELLER"},
                                  {Field::wetting, "Soaped"},
                                  {Field::magnet, "None"},
                                  {Field::tap_water, "Yes"}}));
  CHECK(r.piece.context.form == Form::solid);
  CHECK(r.piece.context.answers.reagent == "nitric");
  CHECK(r.piece.weighing.surroundings.wetting == Wetting::soaped);
  CHECK(contains(refused({{Field::form, "Massive"}}).message, "\"Massive\" is not one of solid, hollow"));
  CHECK(contains(refused({{Field::reagent, "Water"}}).message, "\"Water\" is not one of chromate, nitric"));
}

// The density's band was four times too narrow, and nothing was said (2026-11-30).
TEST_CASE("numbers that the named scale does not show are doubted", "[piece_text]")
{
  const auto doubts = [](const PieceText& text) {
    PieceRead r = read(text);
    doubt_decimals(text, r);
    return r.piece.doubts;
  };
  using Cells = std::initializer_list<std::pair<Field, std::string>>;
  const auto of = [&](Cells cells) { return doubts(piece(cells)); };
  const std::vector<std::string> few = of({{Field::scale, "laboratory"}});
  REQUIRE(few.size() == 1);
  CHECK(contains(few[0], "The numbers have 2 decimals, the scale that was named shows 4"));
  CHECK(contains(of({{Field::dry_g, "5"}, {Field::rise_g, "1"}, {Field::readability_g, "0.05"}}).at(0),
                 "have no decimals"));
  const std::vector<std::string> odd =
      of({{Field::dry_g, "5.0013"}, {Field::rise_g, "0.4801"}, {Field::scale, "pocket"}});
  REQUIRE(odd.size() == 1);
  CHECK(contains(odd[0], "5.0013 g is no multiple of 0.01 g"));
  CHECK(
      contains(of({{Field::dry_g, "4.21"}, {Field::readability_g, "0.05"}}).at(0), "4.21 g is no multiple of 0.05 g"));
  CHECK(contains(of({{Field::rise_g, "0.48 0.485"}, {Field::scale, "pocket"}}).at(0), "0.485 g is no multiple"));
  CHECK(contains(of({{Field::rise_g, ""},
                     {Field::cup_before_g, "60.005"},
                     {Field::cup_after_g, "60.49"},
                     {Field::scale, "pocket"}})
                     .at(0),
                 "60.005 g is no multiple"));
  CHECK(contains(of({{Field::rise_g, "0.4801"}, {Field::liquid_scale, "jeweller"}}).at(0),
                 "0.4801 g is no multiple of 0.001 g"));

  // As it should be: digits that match, one zero that was left out, sums in binary, another scale in the liquid.
  CHECK(of({}).empty());
  CHECK(of({{Field::scale, "pocket"}}).empty());
  CHECK(of({{Field::scale, "jeweller"}}).empty());
  CHECK(of({{Field::dry_g, "5"}, {Field::scale, "pocket"}}).empty());
  CHECK(of({{Field::dry_g, "4.2099999999999997"}, {Field::scale, "pocket"}}).empty());
  CHECK(of({{Field::dry_g, "4.25"}, {Field::rise_g, "0.4"}, {Field::readability_g, "0.05"}}).empty());
  CHECK(of({{Field::rise_g, "0.4801"}, {Field::scale, "pocket"}, {Field::liquid_scale, "laboratory"}}).empty());
  CHECK(of({{Field::dry_g, "99999.99"}, {Field::rise_g, "9999.99"}, {Field::scale, "pocket"}}).empty());
  // Without a named scale the decimals tell it.
  CHECK(of({{Field::dry_g, "5.00013"}}).empty());
  // A CSV may have lost zeros: rows are not asked for decimals.
  CHECK(read(piece({{Field::scale, "laboratory"}})).piece.doubts.empty());
}

TEST_CASE("a disc's surface, face and volume follow from its size", "[piece_text]")
{
  const PieceRead r = read(piece({{Field::diameter_mm, "10"}, {Field::thickness_mm, "2"}}));
  REQUIRE(r.piece.weighing.area_cm2.has_value());
  // Two faces of 0.7854 cm2 and a rim of 0.6283 cm2.
  CHECK_THAT(*r.piece.weighing.area_cm2, WithinAbs(2 * 0.785398 + 0.628319, 1e-5));
  // One face, and that times 0.2 cm.
  REQUIRE(r.piece.weighing.face_cm2.has_value());
  CHECK_THAT(*r.piece.weighing.face_cm2, WithinAbs(0.785398, 1e-6));
  REQUIRE(r.piece.weighing.disc_cm3.has_value());
  CHECK_THAT(*r.piece.weighing.disc_cm3, WithinAbs(0.157080, 1e-6));
}

TEST_CASE("place, form and answers make the context", "[piece_text]")
{
  const PieceRead r = read(piece({{Field::found, "Breakers"},
                                  {Field::magnet, "none"},
                                  {Field::notch_colour, "red"},
                                  {Field::conductivity_iacs, "80"},
                                  {Field::sides, "differ"},
                                  {Field::even_odds, "yes"}}));
  CHECK(r.piece.context.place == "breaker");
  CHECK(r.piece.context.form == Form::solid);
  CHECK(r.piece.context.even_odds);
  const auto& given = r.piece.context.answers.given;
  const auto answered = [&](const std::string& test, const std::string& answer) {
    return std::find(given.begin(), given.end(), std::pair{test, answer}) != given.end();
  };
  CHECK(given.size() == 4);
  CHECK(answered("magnet", "no-pull"));
  CHECK(answered("notch-colour", "copper"));
  CHECK(answered("conductivity", "80"));
  CHECK(answered("sides", "differ"));
  // Tableware may be hollow or filled unless it is said to be solid.
  CHECK(read(piece({{Field::found, "tableware"}})).piece.context.form == Form::unsure);
  CHECK(read(piece({{Field::magnet, "untested"}})).piece.context.answers.given.empty());
}
