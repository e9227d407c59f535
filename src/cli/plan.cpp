#include <fmt/core.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <memory>

#include "bilancetta/error.hpp"
#include "bilancetta/plan_report.hpp"
#include "bilancetta/scale_shown.hpp"
#include "bilancetta/spelling.hpp"
#include "commands.hpp"

using namespace bilancetta;

namespace
{

struct PlanCommand {
  ReadingOptions readings;
  std::string way = "rise", apart, claim;
  double each_g = 1.0, confidence = 0.95;
  int count = 1, repeats = 1;
  std::vector<std::string> same_coin;
  bool json = false;
};

int same_coin(const PlanCommand& command, std::ostream& out)
{
  std::vector<double> readings;
  int decimals = 0;
  for (const std::string& word : command.same_coin) {
    decimals = std::max(decimals, decimals_of(word));
    const auto [end, trouble] = std::from_chars(word.data(), word.data() + word.size(), readings.emplace_back());
    if (trouble != std::errc() || end != word.data() + word.size() || !std::isfinite(readings.back())) {
      throw Error(ErrorCode::bad_option,
                  fmt::format("\"{}\" is not a number; separate the readings by blanks, like 5.00 5.01", word),
                  {.field = "--same-coin"});
    }
  }
  const ScaleShown shown = scale_shown_by(readings, decimals);
  if (command.json) {
    out << fmt::format(
        "{{\"readability_g\": {}, \"scatter_g\": {:.3g}, \"repeatability_g\": {:.3g}, \"all_alike\": {}, "
        "\"stray_g\": {}}}\n",
        shown.readability_g, shown.scatter_g, shown.repeatability_g, shown.all_alike,
        shown.stray_g ? fmt::format("{}", *shown.stray_g) : "null");
    return 0;
  }
  out << fmt::format("The scale steps by {} g and repeats within {:.2g} g (standard deviation){}.\n",
                     shown.readability_g, shown.scatter_g,
                     shown.all_alike ? "; all readings are alike, so it is at most that"
                                     : fmt::format("; {} readings tell that roughly, so take {:.2g} g", readings.size(),
                                                   shown.repeatability_g));
  if (shown.stray_g) {
    out << fmt::format("{} lies far from the rest. If it was a slip, leave it out and ask again.\n", *shown.stray_g);
  }
  out << fmt::format("For a file of settings (--settings FILE):\nreadability_g = {}\nrepeatability_g = {:.2g}\n",
                     shown.readability_g, shown.repeatability_g);
  return 0;
}

Way way_called(const std::string& word)
{
  constexpr std::pair<std::string_view, Way> ways[] = {
      {"rise", Way::rise}, {"submerged", Way::submerged}, {"bottle", Way::bottle}};
  for (const auto& [name, way] : ways) {
    if (same_name(name, word)) {
      return way;
    }
  }
  throw Error(ErrorCode::bad_option, fmt::format("\"{}\" is not one of rise, submerged, bottle", word),
              {.field = "--way"});
}

// Of a mark the first that may bear it.
const Material& material_meant(const Tables& tables, const std::string& name)
{
  const Claim* claim = find_claim(tables, name);
  if (claim == nullptr || find_material(tables, folded(name)) >= 0) {
    return material_called(tables, name);
  }
  if (claim->materials.empty()) {
    throw Error(ErrorCode::bad_option,
                fmt::format("\"{}\" is a mark of a coat, and no weight sees that; name the metal under it", name),
                {.field = "--apart"});
  }
  return tables.materials[claim->materials.front()];
}

std::pair<int, int> materials_called(const Tables& tables, const std::string& words)
{
  const std::size_t comma = words.find(',');
  if (comma == std::string::npos) {
    throw Error(ErrorCode::bad_option, fmt::format("\"{}\" is not KEY,KEY, such as sterling,silver-800", words),
                {.field = "--apart"});
  }
  const Material& one = material_meant(tables, words.substr(0, comma));
  const Material& other = material_meant(tables, words.substr(comma + 1));
  if (one.key == other.key) {
    throw Error(ErrorCode::bad_option,
                fmt::format("two different materials are needed, and both of \"{}\" are {}", words, one.name),
                {.field = "--apart"});
  }
  return {find_material(tables, one.key), find_material(tables, other.key)};
}

void check_numbers(const PlanCommand& command)
{
  const auto require = [](const char* field, bool good, const std::string& what) {
    if (!good) {
      throw Error(ErrorCode::bad_option, what, {.field = field});
    }
  };
  require("--each-g", command.each_g >= 0.001 && command.each_g <= 10000,
          fmt::format("{} is outside 0.001 to 10000 g", command.each_g));
  require("--count", command.count >= 1 && command.count <= 1000000,
          fmt::format("{} is outside 1 to 1000000", command.count));
  require("--repeats", command.repeats >= 1 && command.repeats <= 100,
          fmt::format("{} is outside 1 to 100", command.repeats));
  require("--confidence", command.confidence > 0.5 && command.confidence < 0.9999,
          fmt::format("{} is not between 0.5 and 0.9999", command.confidence));
}

int run_plan(const PlanCommand& command, std::ostream& out)
{
  if (!command.same_coin.empty()) {
    return same_coin(command, out);
  }
  check_numbers(command);
  const double level = verdict_options_of(command.readings).level;  // refuses what no band has
  Tables storage;
  const Tables& tables = tables_of(command.readings, storage);
  PieceText text = texts_of(tables, command.readings);
  text[Field::wetting] = text[Field::wetting].empty() ? "soaped" : text[Field::wetting];
  if (!text[Field::form].empty() && command.claim.empty()) {
    throw Error(ErrorCode::bad_option, "tells only what a claim is worth; give --claim too", {.field = "--form"});
  }
  const PieceRead read = piece_from(tables, text, 2);
  PlanQuestion question;
  question.weighing = {read.piece.weighing.scale,
                       read.piece.weighing.surroundings,
                       way_called(command.way),
                       command.each_g,
                       command.count,
                       command.repeats,
                       read.piece.weighing.shape_factor,
                       read.piece.weighing.liquid_scale,
                       read.piece.weighing.span_u};
  const bool told = !text[Field::scale].empty() || !text[Field::readability_g].empty();
  question.scale_words =
      fmt::format("a {}scale with steps of {} g{}", text[Field::scale].empty() ? "" : text[Field::scale] + " ",
                  question.weighing.scale.readability_g, told ? "" : " (assumed: say --scale)");
  question.confidence = command.confidence;
  question.level = level;
  if (!command.apart.empty()) {
    question.apart = materials_called(tables, command.apart);
  }
  if (!command.claim.empty()) {
    question.claim = claim_called(tables, command.claim);
  }
  question.place = text[Field::found];
  question.form = read.piece.context.form;
  if (const auto why = why_unweighable(question.weighing, least_density_asked(tables, question)); !why.empty()) {
    throw Error(ErrorCode::bad_option, fmt::format("{} x {} g {}", command.count, command.each_g, why),
                {.field = "--count"});
  }
  out << (command.json ? plan_json(tables, question) + "\n" : plan_text(tables, question));
  return 0;
}

}  // namespace

void add_plan(CLI::App& app, Run& run)
{
  auto command = std::make_shared<PlanCommand>();
  CLI::App* sub =
      app.add_subcommand("plan", "before weighing: is this scale good enough, how much metal, how many together");
  sub->footer(
      "Example: can a 0.01 g scale tell sterling from 800 silver, with spoons of 20 g?\n"
      "  bilancetta plan --scale pocket --each-g 20 --apart sterling,silver-800");
  sub->add_option("--each-g", command->each_g, "weight of one piece, g (default 1)")->type_name("G");
  sub->add_option("--count", command->count, "like pieces weighed together")->type_name("N");
  sub->add_option("--repeats", command->repeats, "repeats of each reading")->type_name("N");
  sub->add_option("--way", command->way, "rise, submerged or bottle")->type_name("WAY");
  sub->add_option("--apart", command->apart, "two materials to tell apart, by key or mark: 925,800")
      ->type_name("KEY,KEY");
  sub->add_option("--claim", command->claim, "a claim to be checked")->type_name("KEY");
  sub->add_option("--confidence", command->confidence, "chance of telling them apart that is wanted (default 0.95)")
      ->type_name("P");
  sub->add_option("--same-coin", command->same_coin, "readings of one coin, at least five: what the scale can do")
      ->expected(1, 100)
      ->type_name("G...");
  sub->add_flag("--json", command->json, "one JSON object");
  add_reading_options(*sub, command->readings, Reads::plan);
  sub->callback([command, &run] { run = [command](std::ostream& out) { return run_plan(*command, out); }; });
}
