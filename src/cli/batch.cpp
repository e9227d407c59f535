#include <fmt/core.h>

#include <fstream>
#include <iostream>
#include <memory>

#include "bilancetta/batch.hpp"
#include "bilancetta/error.hpp"
#include "commands.hpp"

using namespace bilancetta;

namespace
{

struct BatchCommand {
  ReadingOptions readings;
  std::string file;
  bool json = false;
  int threads = 0;
};

int run_batch_command(const BatchCommand& command, std::ostream& out)
{
  Tables storage;
  const Tables& tables = tables_of(command.readings, storage);
  BatchOptions options;
  options.defaults = texts_of(tables, command.readings);
  options.verdict = verdict_options_of(command.readings);
  options.json = command.json;
  options.threads = command.threads;
  std::ifstream file;
  if (command.file != "-") {
    file.open(command.file, std::ios::binary);
    // A directory opens but cannot be read.
    if (!file || file.peek() == std::ifstream::traits_type::eof()) {
      throw Error(ErrorCode::cannot_open,
                  file.is_open() && file.eof() ? "is empty; the first line must name the columns"
                                               : "cannot be read; is the name right?",
                  {.file = command.file});
    }
    options.input_name = command.file;
  }
  const BatchResult result = run_batch(tables, options, command.file == "-" ? std::cin : file, out);
  out.flush();
  if (!out) {
    throw Error(ErrorCode::cannot_open,
                fmt::format("the results could not be written (disk full, or the reader closed) after about {} rows",
                            result.rows));
  }
  if (result.unusable > 0) {
    std::cerr << fmt::format("bilancetta: {} of {} rows could not be used; see their message column\n", result.unusable,
                             result.rows);
  }
  return result.unusable > 0 ? 1 : 0;
}

}  // namespace

void add_batch(CLI::App& app, Run& run)
{
  auto command = std::make_shared<BatchCommand>();
  CLI::App* sub = app.add_subcommand("batch", "a CSV of weighings, one row a piece");
  sub->footer(
      "Example: the first line names the columns, such as piece,dry_g,rise_g,found,magnet\n"
      "  bilancetta batch jar.csv > jar-named.csv");
  sub->add_option("file", command->file, "the CSV file, or - for standard input")->required();
  sub->add_flag("--json", command->json, "one JSON object a line instead of CSV");
  sub->add_option("--threads", command->threads, "how many processors to use (default all)")->check(CLI::Range(1, 256));
  add_reading_options(*sub, command->readings, false);
  sub->callback([command, &run] { run = [command](std::ostream& out) { return run_batch_command(*command, out); }; });
}
