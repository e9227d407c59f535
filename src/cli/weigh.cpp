#include <fmt/core.h>

#include <memory>

#include "bilancetta/error.hpp"
#include "bilancetta/html_report.hpp"
#include "bilancetta/mixed_verdict.hpp"
#include "bilancetta/report.hpp"
#include "commands.hpp"
#include "out_file.hpp"

using namespace bilancetta;

namespace
{

struct WeighOptions {
  ReadingOptions readings;
  bool json = false;
  std::string only, html;
};

// A word as a shell takes it for itself.
std::string for_shell(const std::string& word)
{
  constexpr std::string_view plain = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_./=+:,-";
  if (!word.empty() && word.find_first_not_of(plain) == std::string::npos) {
    return word;
  }
  std::string text = "'";
  for (const char c : word) {
    text += c == '\'' ? std::string("'\\''") : std::string(1, c);
  }
  return text + "'";
}

// The command line as typed, with the mixed-up reading under its right name.
std::string corrected_line(const std::vector<std::string>& typed, const std::string& wrong_field)
{
  const bool was_rise = wrong_field == "rise_g";
  std::string line = "bilancetta";
  for (std::string word : typed) {
    const std::size_t name_end = std::min(word.find('='), word.size());
    const std::string name = word.substr(0, name_end);
    if (was_rise && (name == "--rise" || name == "--cup-gain")) {
      word = "--submerged" + word.substr(name_end);
    } else if (!was_rise && name == "--submerged") {
      word = "--rise" + word.substr(name_end);
    }
    line += ' ' + for_shell(word);
  }
  return line;
}

// The page appears under its name when it is whole.
void write_page(const WeighOptions& options, const std::string& page)
{
  OutFile file(options.html, {options.readings.settings}, false, false);
  file.stream() << page << std::flush;
  file.finish();
}

int run_weigh(const WeighOptions& options, const std::vector<std::string>& typed, std::ostream& out)
{
  Tables storage;
  const Tables& tables = tables_of(options.readings, storage);
  VerdictOptions verdict_options = verdict_options_of(options.readings);
  const PieceText text = texts_of(tables, options.readings);
  try {
    PieceRead read = piece_from(tables, text, finest_decimals(text));
    doubt_decimals(text, read);
    if (read.mixed) {
      if (!read.piece.claim.empty() || !verdict_options.prices.per_g.empty()) {
        throw Error(ErrorCode::bad_option, "no claim holds of unlike pieces and no worth is known; leave it away",
                    {.field = read.piece.claim.empty() ? "--price" : "--claim"});
      }
      const Analysis analysis = weigh_up_mixed(mixture_range_of(tables), read.piece, verdict_options.level);
      const std::string json = json_of_mixed(tables, read.piece, analysis);
      const ReportHeading heading{std::string(program_version()), tables.checksum, read.assumed};
      if (!options.html.empty()) {
        write_page(options, html_of_mixed(tables, read.piece, analysis, heading));
      }
      out << (!options.only.empty() ? json_value(json, options.only) + "\n"
              : options.json        ? json + "\n"
                                    : text_of_mixed(tables, read.piece, analysis, heading));
      return 0;
    }
    if (verdict_options.question == Question::claim && read.piece.claim.empty()) {
      throw Error(ErrorCode::bad_option, "asks about a claim, but none is given; add --claim", {.field = "--ask"});
    }
    verdict_options.threads = 0;
    const Verdict verdict = verdict_of(tables, read.piece, verdict_options);
    const ReportHeading heading{std::string(program_version()), tables.checksum, read.assumed};
    if (!options.html.empty()) {
      write_page(options, html_report(tables, read.piece, verdict, heading));
    }
    if (!options.only.empty()) {
      out << json_value(json_report(tables, read.piece, verdict, heading), options.only) << '\n';
    } else if (options.json) {
      out << json_report(tables, read.piece, verdict, heading) << '\n';
    } else {
      out << text_report(tables, read.piece, verdict, heading);
    }
  } catch (const Error& error) {
    // Only one reading typed under the other's name can be put right by renaming it.
    if (error.code() != ErrorCode::readings_mixed_up || !text[Field::cup_before_g].empty() ||
        !text[Field::holder_g].empty()) {
      throw;
    }
    throw Error(error.code(),
                fmt::format("{}.\nThe line to paste: {}", error.what(), corrected_line(typed, error.where().field)));
  }
  return 0;
}

}  // namespace

void add_weigh(CLI::App& app, Run& run, const std::vector<std::string>& typed)
{
  auto options = std::make_shared<WeighOptions>();
  CLI::App* command = app.add_subcommand("weigh", "one piece, or like pieces weighed together");
  command->footer(
      "Example: a button weighs 4.21 g dry; a cup of water on the scale gains 0.42 g when it hangs in it:\n"
      "  bilancetta weigh --dry 4.21 --rise 0.42 --found breaker");
  add_reading_options(*command, options->readings, Reads::piece);
  command->add_flag("--json", options->json, "one JSON object");
  command->add_option("--html", options->html, "also a page with pictures, for a browser or to print")
      ->type_name("FILE");
  command->add_option("--only", options->only, "a single value of it by its path, such as candidates.0.material")
      ->type_name("PATH");
  command->callback([options, &run, &typed] {
    run = [options, &typed](std::ostream& out) { return run_weigh(*options, typed, out); };
  });
}
