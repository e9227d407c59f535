#include "commands.hpp"

using namespace bilancetta;

namespace
{

struct OptionRow {
  Field field;
  const char* names;
  const char* help;
  bool of_one_piece;
  bool flag;
};

constexpr OptionRow option_rows[] = {
    {Field::dry_g, "--dry", "dry weight in grams; several are repeats; of all pieces together", true, false},
    {Field::rise_g, "--rise,--cup-gain",
     "what a cup of water on the scale gained when the piece hung in it, touching nothing", true, false},
    {Field::cup_before_g, "--cup-before", "the same from two readings: the cup before ...", true, false},
    {Field::cup_after_g, "--cup-after", "... and with the piece hung in it", true, false},
    {Field::submerged_g, "--submerged", "instead: weight with the piece hung from the scale in water", true, false},
    {Field::holder_g, "--holder", "the empty holder in water, if it was not tared", true, false},
    {Field::bottle_full_g, "--bottle-full", "instead: a bottle filled to its mark ...", true, false},
    {Field::bottle_with_piece_g, "--bottle-with-piece", "... and with the pieces in it, topped up to the mark", true,
     false},
    {Field::count, "--count", "like pieces weighed together", true, false},
    {Field::mixed, "--mixed", "they are unlike: only their mean density is given", true, true},
    {Field::found, "--found", "where it came from: breaker, relay, connector, tableware, coins, ...", false, false},
    {Field::form, "--form", "solid, hollow, filled or unsure", false, false},
    {Field::claim, "--claim,--stamped", "what it is said to be: sterling, 925, 18k, any material key", true, false},
    {Field::piece, "--piece", "a name for the record", true, false},
    {Field::reagent, "--reagent", "which test drop was used: chromate, nitric or other", false, false},
    {Field::reagent_checked, "--reagent-checked", "the drop was tried on a known piece", false, true},
    {Field::scale, "--scale",
     "kitchen, pocket, jeweller or laboratory (1, 0.01, 0.001, 0.0001 g); else from the decimals typed", false, false},
    {Field::readability_g, "--readability", "smallest step of the display, g", false, false},
    {Field::repeatability_g, "--repeatability", "standard deviation of one reading, g", false, false},
    {Field::linearity_g, "--linearity", "bound on the scale's error, g", false, false},
    {Field::water_c, "--water-c", "water temperature, C (default 20 +- 3)", false, false},
    {Field::water_c_u, "--water-c-u", "its standard uncertainty", false, false},
    {Field::tap_water, "--tap-water", "tap water: allow for dissolved salts", false, true},
    {Field::wetting, "--wetting,--bubbles", "against bubbles the piece was dunked, soaped, boiled or sealed", false,
     false},
    {Field::liquid_density, "--liquid-density", "another liquid, g/cm3", false, false},
    {Field::liquid_density_u, "--liquid-density-u", "its standard uncertainty", false, false},
    {Field::air_c, "--air-c", "air temperature, C", false, false},
    {Field::air_hpa, "--air-hpa", "air pressure, hPa", false, false},
    {Field::air_rh, "--air-rh", "relative humidity, %", false, false},
    {Field::thread_mm, "--thread-mm", "diameter of the thread (default 0.1)", false, false},
    {Field::thread_not_tared, "--thread-not-tared", "the wet thread was not tared", false, true},
    {Field::tare_rounded, "--tare-rounded", "the scale rounds a tare to its step", false, true},
    {Field::drift_g, "--drift", "bound on the change of zero between taring and reading, g", false, false},
    {Field::liquid_scale, "--liquid-scale", "class of another scale used for the reading in water", false, false},
    {Field::span_u, "--span-u", "relative uncertainty of a scale's span, with two scales (default 0.0005)", false,
     false},
    {Field::cup_mm, "--cup-mm", "inner diameter of the cup (default 70)", false, false},
    {Field::evaporation_g, "--evaporation", "at most this leaves the cup while you weigh (default 0.0002 g)", false,
     false},
    {Field::air_free, "--air-free", "boiled water, without dissolved air", false, true},
    {Field::soaked_g, "--soaked", "the piece weighed in air again, soaked and wiped: open pores", true, false},
    {Field::bottle_c, "--bottle-c", "temperature of the full bottle ...", true, false},
    {Field::bottle_with_piece_c, "--bottle-with-piece-c", "... and of the second filling", true, false},
    {Field::reference_density, "--reference-density", "this is a piece of known density: is the bench trustworthy?",
     true, false},
    {Field::reference_density_u, "--reference-density-u", "its standard uncertainty (default 0.02)", true, false},
    {Field::diameter_mm, "--diameter-mm", "a disc's diameter ...", true, false},
    {Field::thickness_mm, "--thickness-mm", "... and thickness", true, false},
    {Field::area_cm2, "--area-cm2", "surface of one piece", true, false},
    {Field::layer_mm, "--layer-mm", "thickness of the face, seen at the edge", true, false},
    {Field::even_odds, "--even-odds", "ignore where it was found and what is common", false, true},
    {Field::as_typed, "--as-typed", "insist on readings that look mixed up", false, true},
};

}  // namespace

void add_reading_options(CLI::App& command, ReadingOptions& options, bool with_piece)
{
  options.texts.reserve(std::size(option_rows));
  for (const OptionRow& row : option_rows) {
    if (row.of_one_piece && !with_piece) {
      continue;
    }
    auto& [field, words] = options.texts.emplace_back(row.field, std::vector<std::string>{});
    if (row.flag) {
      command.add_flag_callback(
          row.names, [&words = words] { words = {"yes"}; }, row.help);
    } else {
      CLI::Option* option = command.add_option(row.names, words, row.help);
      const bool repeats = row.field == Field::dry_g || row.field == Field::rise_g || row.field == Field::submerged_g;
      option->expected(1, repeats ? 100 : 1)->type_name(repeats ? "G..." : "");
    }
  }
  if (with_piece) {
    command
        .add_option("--test", options.tests,
                    "what a test showed, NAME=ANSWER: magnet=weak, notch-reagent=red, sides=differ ...")
        ->take_all();
  }
  command.add_option("--price", options.prices,
                     "what metal is worth, METAL=P/g or METAL=P/ozt, METAL one of Ag Au Pd Pt");
  command.add_option("--pays", options.pays_percent, "a buyer's percentage of that");
  command.add_option("--hours", options.hours, "time spent on the work, for its worth an hour")
      ->check(CLI::Range(0.0, 1e6));
  command.add_flag("--no-marks", options.no_marks, "propose only tests that leave no mark");
  command.add_flag("--marks-allowed", options.marks_allowed, "also on coins, jewellery and tableware");
  command.add_option("--ask", options.ask,
                     "the question the next test should answer: build, silver, cadmium, precious or claim");
  command.add_option("--level", options.level, "coverage of the bands (default 0.95)");
  command.add_option("--settings", options.settings,
                     "a file of your bench's settings, lines such as readability_g = 0.01");
  command.add_option("--my-tables,--tables", options.my_tables, "a directory of your own table files");
}
