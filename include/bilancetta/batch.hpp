#pragma once

#include <istream>
#include <ostream>
#include <string>

#include "bilancetta/piece_text.hpp"
#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// How a CSV of weighings is to be worked through.
struct BatchOptions {
  PieceText defaults;  ///< readings options of the command line: fill blank cells; tests never do
  VerdictOptions verdict;
  bool json = false;  ///< one JSON object a line instead of CSV
  int threads = 0;    ///< 0: as many as the machine has
  std::string input_name = "standard input";
};

struct BatchResult {
  long rows = 0;
  long unusable = 0;  ///< rows reported as status error
};

/// Streams rows from `in` to `out` in input order, one out for each in; the same for any number of
/// threads; constant memory. A bad row is reported in its own row. Stops early when `out` fails.
/// @throws Error (bad_csv) if there is no header, or no column of readings.
BatchResult run_batch(const Tables& tables, const BatchOptions& options, std::istream& in, std::ostream& out);

}  // namespace bilancetta
