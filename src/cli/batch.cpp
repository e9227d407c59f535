#include <fmt/core.h>
#include <unistd.h>

#include <cerrno>
#include <iostream>
#include <istream>
#include <memory>

#include "bilancetta/batch.hpp"
#include "bilancetta/error.hpp"
#include "commands.hpp"
#include "file_streams.hpp"
#include "interrupt.hpp"
#include "out_file.hpp"
#include "progress.hpp"

using namespace bilancetta;

namespace
{

struct BatchCommand {
  ReadingOptions readings;
  std::string file, out, carry_on, summary;
  bool json = false, keep_input = false, sitting = false, learn = false;
  double pile_sure = 70.0, pile_cadmium = 10.0;
  int threads = 0;
};

BatchOptions batch_options_of(const BatchCommand& command, const Tables& tables)
{
  if (!command.readings.prices.empty() && command.summary.empty() && !command.json) {
    throw Error(ErrorCode::bad_option, "CSV has no place for a worth; add --summary FILE or --json",
                {.field = "--price"});
  }
  BatchOptions options;
  options.defaults = texts_of(tables, command.readings);
  options.verdict = verdict_options_of(command.readings);
  options.json = command.json;
  options.keep_input = command.keep_input;
  options.threads = command.threads;
  options.sitting = command.sitting;
  options.learn = command.learn;
  options.verdict.piles = {command.pile_cadmium / 100.0, command.pile_sure / 100.0};
  if (!command.summary.empty()) {
    options.summary = command.summary.ends_with(".json") ? Summary::json : Summary::text;
  }
  options.stop = &interrupted();
  if (command.file != "-") {
    options.input_name = command.file;
  }
  return options;
}

std::string way_to_go_on(const BatchCommand& command)
{
  const std::string& name = command.out.empty() ? command.carry_on : command.out;
  if (name.empty()) {
    return "";
  }
  const char* whole = command.sitting ? "--sitting" : command.learn ? "--learn" : "--summary";
  if (command.sitting || command.learn || !command.summary.empty()) {
    return fmt::format(
        " and stay in {0}.part. {1} needs every row, so it must begin anew and cannot be gone on with: remove {0}.part "
        "or give it another name, then type the same line again",
        name, whole);
  }
  return fmt::format("; go on with the same options and --carry-on {}", name);
}

// Finishes what is whole and says what is to be said at the end. @return the exit status
int end_of(const BatchCommand& command, const BatchResult& result, long before, OutFile& out, OutFile* summary)
{
  const long rows = before + result.rows;
  if (out.trouble() == EPIPE) {
    return 2;  // whoever reads has seen enough
  }
  if (!out.stream()) {
    throw Error(ErrorCode::cannot_open,
                fmt::format("the results could not be written (disk full, or the reader closed) after {} rows{}", rows,
                            way_to_go_on(command)));
  }
  for (const std::string& remark : result.remarks) {
    std::cerr << fmt::format("bilancetta: {}\n", remark);
  }
  if (result.stopped) {
    std::cerr << fmt::format("bilancetta: stopped after {} rows, which are written whole{}\n", rows,
                             way_to_go_on(command));
    return 128 + interrupt_signal();
  }
  out.finish();
  if (summary != nullptr) {  // only of rows that are all there
    summary->stream() << result.summary << std::flush;
    summary->finish();
  }
  if (result.unusable > 0) {
    std::cerr << fmt::format("bilancetta: {} of {} rows could not be used; see their message column\n", result.unusable,
                             result.rows);
  }
  return result.unusable > 0 ? 1 : 0;
}

int run_batch_command(const BatchCommand& command)
{
  catch_interrupts();
  Tables storage;
  const Tables& tables = tables_of(command.readings, storage);
  BatchOptions options = batch_options_of(command, tables);
  const std::string rows = command.out.empty() ? command.carry_on : command.out;
  if (!command.summary.empty() && (command.summary == rows || command.summary == rows + ".part")) {
    throw Error(ErrorCode::bad_option, "is the file of the rows too; name another one", {.field = "--summary"});
  }
  InputBuffer input(command.file);
  std::istream in(&input);
  const bool to_file = !rows.empty();
  const std::vector<std::string> inputs = {command.file, command.readings.settings};
  const auto out = to_file ? std::make_unique<OutFile>(rows, inputs, command.out.empty(), command.json)
                           : std::make_unique<OutFile>();
  options.carry_on = out->done_before();
  // Opened before the work, so that a name that cannot be is told at once.
  const auto summary =
      command.summary.empty() ? nullptr : std::make_unique<OutFile>(command.summary, inputs, false, false);
  ProgressLine line(isatty(STDERR_FILENO) != 0 && (to_file || isatty(STDOUT_FILENO) == 0), input.size());
  options.progress = [&](BatchProgress now) { line.show(now); };
  const long before = options.carry_on ? options.carry_on->rows : 0;
  try {
    const BatchResult result = run_batch(tables, options, in, out->stream());
    line.erase();
    return end_of(command, result, before, *out, summary.get());
  } catch (...) {
    line.erase();
    if (interrupted()) {  // an input that ends there looks like a bad one
      std::cerr << "bilancetta: stopped before the first row\n";
      return 128 + interrupt_signal();
    }
    throw;
  }
}

}  // namespace

void add_batch(CLI::App& app, Run& run)
{
  auto command = std::make_shared<BatchCommand>();
  CLI::App* sub = app.add_subcommand("batch", "a CSV of weighings, one row a piece");
  sub->footer(
      "Example: the first line names the columns, such as piece,dry_g,rise_g,found,magnet\n"
      "  bilancetta batch jar.csv > jar-named.csv");
  sub->add_option("file", command->file, "the CSV file, or - for standard input")->required()->type_name("");
  sub->add_flag("--json", command->json, "one JSON object a line instead of CSV");
  CLI::Option* out =
      sub->add_option("--out", command->out, "write to FILE, which appears when all is done; until then FILE.part")
          ->type_name("FILE");
  CLI::Option* carry_on =
      sub->add_option("--carry-on", command->carry_on, "go on with FILE.part that a stopped run with --out has left")
          ->type_name("FILE")
          ->excludes(out);
  sub->add_flag("--keep-input", command->keep_input, "hand every column of the input through");
  sub->add_option("--summary", command->summary,
                  "what the whole jar holds, in FILE: JSON if it ends in .json, else text")
      ->type_name("FILE")
      ->excludes(carry_on);
  sub->add_option("--pile-sure", command->pile_sure, "percent from which on a piece goes on a pile (default 70)")
      ->type_name("PERCENT")
      ->check(CLI::Range(1.0, 100.0));
  sub->add_option("--pile-cadmium", command->pile_cadmium,
                  "percent of cadmium from which on it goes to the suspects (default 10)")
      ->type_name("PERCENT")
      ->check(CLI::Range(0.0, 100.0));
  sub->add_flag("--sitting", command->sitting,
                "all rows were weighed in one sitting: adjust what their weighings share (reads the file twice)")
      ->excludes(carry_on);
  sub->add_flag("--learn", command->learn, "let the jar teach what is common in it (reads the file once more)")
      ->excludes(carry_on);
  sub->add_option("--threads", command->threads, "how many processors to use (default all)")
      ->type_name("N")
      ->check(CLI::Range(1, 256));
  add_reading_options(*sub, command->readings, Reads::rows);
  sub->callback([command, &run] { run = [command](std::ostream&) { return run_batch_command(*command); }; });
}
