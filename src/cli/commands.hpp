#pragma once

#include <CLI/CLI.hpp>

#include <functional>
#include <ostream>
#include <string>
#include <vector>

#include "bilancetta/batch.hpp"

/// The commands of the program. Each adds its options to the parser and leaves a function that does
/// the work; parsing opens no file. The function returns the exit status.
using Run = std::function<int(std::ostream&)>;

void add_weigh(CLI::App& app, Run& run, const std::vector<std::string>& typed);
void add_batch(CLI::App& app, Run& run);
void add_plan(CLI::App& app, Run& run);
void add_tables(CLI::App& app, Run& run);
/// Which materials `tables list` shows; what is empty lets all through.
struct MaterialFilter {
  std::string group, place;
  std::vector<std::string> holds;  ///< constituents, themselves or in a compound
  double from = 0.0, to = 30.0;    ///< density, g/cm3
};
std::vector<const bilancetta::Material*> materials_passing(const bilancetta::Tables& tables,
                                                           const MaterialFilter& only);
/// One material in full, as `tables show` prints it.
std::string material_text(const bilancetta::Tables& tables, const bilancetta::Material& m);

/// What is wrong with a command line, with the nearest options or commands.
std::string message_of(const CLI::App& app, const std::vector<std::string>& typed, const CLI::ParseError& error);

/// What the options are for: weigh takes those of one piece too, plan those of the bench only.
enum class Reads { piece, rows, plan };
/// The options that describe readings and pieces, shared by weigh, batch and plan.
struct ReadingOptions {
  Reads reads = Reads::piece;
  std::vector<std::pair<bilancetta::Field, std::vector<std::string>>> texts;
  std::vector<std::string> tests;   ///< NAME=ANSWER
  std::vector<std::string> prices;  ///< METAL=P[/g|/ozt]
  std::string my_tables, ask, settings;
  double level = 0.95, pays_percent = 100.0, hours = 0.0;
  bool no_marks = false, marks_allowed = false;
};
void add_reading_options(CLI::App& command, ReadingOptions& options, Reads reads);
bilancetta::PieceText texts_of(const bilancetta::Tables& tables, const ReadingOptions& options);
bilancetta::VerdictOptions verdict_options_of(const ReadingOptions& options);
/// The built-in tables, or those with the user's rows in `storage`.
const bilancetta::Tables& tables_of(const ReadingOptions& options, bilancetta::Tables& storage);
