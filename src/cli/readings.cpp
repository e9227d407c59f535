#include "commands.hpp"

using namespace bilancetta;

namespace
{

// Which commands take an option.
enum class Takes { weigh, weigh_and_batch, all };

struct OptionRow {
  Field field;
  const char* names;
  const char* value;  // what follows it; none: a flag
  const char* help;
  Takes takes;
};

constexpr OptionRow option_rows[] = {
    {Field::dry_g, "--dry", "G...", "dry weight in grams; several are repeats; of all pieces together", Takes::weigh},
    {Field::rise_g, "--rise,--cup-gain", "G...",
     "what a cup of water on the scale gained when the piece hung in it, touching nothing", Takes::weigh},
    {Field::cup_before_g, "--cup-before", "G", "the same from two readings: the cup before ...", Takes::weigh},
    {Field::cup_after_g, "--cup-after", "G", "... and with the piece hung in it", Takes::weigh},
    {Field::submerged_g, "--submerged", "G...", "instead: weight with the piece hung from the scale in water",
     Takes::weigh},
    {Field::holder_g, "--holder", "G", "the empty holder in water, if it was not tared", Takes::weigh},
    {Field::bottle_full_g, "--bottle-full", "G", "instead: a bottle filled to its mark ...", Takes::weigh},
    {Field::bottle_with_piece_g, "--bottle-with-piece", "G", "... and with the pieces in it, topped up to the mark",
     Takes::weigh},
    {Field::count, "--count", "N", "like pieces weighed together", Takes::weigh},
    {Field::mixed, "--mixed", nullptr, "they are unlike: only their mean density is given", Takes::weigh},
    {Field::found, "--found", "PLACE", "where it came from: breaker, relay, connector, tableware, coins, ...",
     Takes::all},
    {Field::form, "--form", "FORM", "solid, hollow, filled or unsure", Takes::all},
    {Field::claim, "--claim,--stamped", "KEY", "what it is said to be: sterling, 925, 18k, any material key",
     Takes::weigh},
    {Field::piece, "--piece", "NAME", "a name for the record", Takes::weigh},
    {Field::reagent, "--reagent", "DROP", "which test drop was used: chromate, nitric or other",
     Takes::weigh_and_batch},
    {Field::reagent_checked, "--reagent-checked", nullptr, "the drop was tried on a known piece",
     Takes::weigh_and_batch},
    {Field::scale, "--scale", "CLASS",
     "kitchen, pocket, jeweller or laboratory (1, 0.01, 0.001, 0.0001 g); else from the decimals typed", Takes::all},
    {Field::readability_g, "--readability", "G", "smallest step of the display, g", Takes::all},
    {Field::repeatability_g, "--repeatability", "G", "standard deviation of one reading, g", Takes::all},
    {Field::linearity_g, "--linearity", "G", "bound on the scale's error, g", Takes::all},
    {Field::water_c, "--water-c", "T", "water temperature, C (default 20 +- 3)", Takes::all},
    {Field::water_c_u, "--water-c-u", "U", "its standard uncertainty", Takes::all},
    {Field::tap_water, "--tap-water", nullptr, "tap water: allow for dissolved salts", Takes::all},
    {Field::wetting, "--wetting,--bubbles", "HOW",
     "against bubbles: dunked (nothing done), soaped, boiled (soaped, in water that was boiled and has cooled; never "
     "boil the piece), sealed (none can cling)",
     Takes::all},
    {Field::liquid_density, "--liquid-density", "R", "another liquid, g/cm3", Takes::all},
    {Field::liquid_density_u, "--liquid-density-u", "U", "its standard uncertainty", Takes::all},
    {Field::air_c, "--air-c", "T", "air temperature, C", Takes::all},
    {Field::air_hpa, "--air-hpa", "P", "air pressure, hPa", Takes::all},
    {Field::air_rh, "--air-rh", "PERCENT", "relative humidity, %", Takes::all},
    {Field::thread_mm, "--thread-mm", "D", "diameter of the thread (default 0.1)", Takes::all},
    {Field::thread_not_tared, "--thread-not-tared", nullptr, "the wet thread was not tared", Takes::all},
    {Field::tare_rounded, "--tare-rounded", nullptr, "the scale rounds a tare to its step", Takes::all},
    {Field::drift_g, "--drift", "G", "bound on the change of zero between taring and reading, g", Takes::all},
    {Field::liquid_scale, "--liquid-scale", "CLASS", "class of another scale used for the reading in water",
     Takes::all},
    {Field::span_u, "--span-u", "U", "relative uncertainty of a scale's span, with two scales (default 0.0005)",
     Takes::all},
    {Field::cup_mm, "--cup-mm", "D", "inner diameter of the cup (default 70)", Takes::all},
    {Field::evaporation_g, "--evaporation", "G", "at most this leaves the cup while you weigh (default 0.0002 g)",
     Takes::all},
    {Field::air_free, "--air-free", nullptr, "water that was boiled, and has cooled, without dissolved air",
     Takes::all},
    {Field::soaked_g, "--soaked", "G", "the piece weighed in air again, soaked and wiped: open pores", Takes::weigh},
    {Field::bottle_c, "--bottle-c", "T", "temperature of the full bottle ...", Takes::weigh},
    {Field::bottle_with_piece_c, "--bottle-with-piece-c", "T", "... and of the second filling", Takes::weigh},
    {Field::reference_density, "--reference-density", "R",
     "this is a piece of known density: is the bench trustworthy?", Takes::weigh},
    {Field::reference_density_u, "--reference-density-u", "U", "its standard uncertainty (default 0.02)", Takes::weigh},
    {Field::diameter_mm, "--diameter-mm", "D", "a disc's diameter ...", Takes::weigh},
    {Field::thickness_mm, "--thickness-mm", "T", "... and thickness", Takes::weigh},
    {Field::area_cm2, "--area-cm2", "A", "surface of one piece", Takes::weigh},
    {Field::layer_mm, "--layer-mm", "L", "thickness of the face, seen at the edge", Takes::weigh},
    {Field::even_odds, "--even-odds", nullptr, "ignore where it was found and what is common", Takes::weigh_and_batch},
    {Field::as_typed, "--as-typed", nullptr, "insist on readings that look mixed up", Takes::weigh_and_batch},
};

bool takes(Takes takes, Reads reads)
{
  return takes == Takes::all || reads == Reads::piece || (takes == Takes::weigh_and_batch && reads == Reads::rows);
}

// What is asked of a verdict.
void add_verdict_options(CLI::App& command, ReadingOptions& options)
{
  CLI::Option* price =
      command
          .add_option("--price", options.prices,
                      "what metal is worth, a gram (/g) or a troy ounce (/ozt); METAL is Ag, Au, Pd or Pt")
          ->type_name("METAL=P/g...");
  command.add_option("--pays", options.pays_percent, "a buyer's percentage of that")
      ->type_name("PERCENT")
      ->needs(price);
  command.add_option("--hours", options.hours, "time spent on the work, for its worth an hour")
      ->check(CLI::Range(0.0, 1e6))
      ->type_name("H")
      ->needs(price);
  command.add_flag("--no-marks", options.no_marks, "propose only tests that leave no mark");
  command.add_flag("--marks-allowed", options.marks_allowed, "also on coins, jewellery, tableware and dental pieces");
  command
      .add_option("--ask", options.ask,
                  "the question the next test should answer: build, silver, cadmium, precious or claim")
      ->type_name("QUESTION");
}

}  // namespace

void add_reading_options(CLI::App& command, ReadingOptions& options, Reads reads)
{
  options.reads = reads;
  options.texts.reserve(std::size(option_rows));
  for (const OptionRow& row : option_rows) {
    if (!takes(row.takes, reads)) {
      continue;
    }
    auto& [field, words] = options.texts.emplace_back(row.field, std::vector<std::string>{});
    if (row.value == nullptr) {
      command.add_flag_callback(
          row.names, [&words = words] { words = {"yes"}; }, row.help);
    } else {
      CLI::Option* option = command.add_option(row.names, words, row.help);
      const bool repeats = row.field == Field::dry_g || row.field == Field::rise_g || row.field == Field::submerged_g;
      // A word that follows the only value is something else: the file of a batch.
      option->expected(1, repeats ? 100 : 1)->allow_extra_args(repeats)->type_name(row.value);
    }
  }
  if (reads == Reads::piece) {
    command.add_option("--test", options.tests, "what a test showed: magnet=weak, notch-reagent=red, sides=differ ...")
        ->take_all()
        ->type_name("NAME=ANSWER...");
  }
  if (reads != Reads::plan) {
    add_verdict_options(command, options);
  }
  command.add_option("--level", options.level, "coverage of the bands (default 0.95)")->type_name("P");
  command
      .add_option("--settings", options.settings, "a file of your bench's settings, lines such as readability_g = 0.01")
      ->type_name("FILE");
  command.add_option("--my-tables,--tables", options.my_tables, "a directory of your own table files")
      ->type_name("DIRECTORY");
}
