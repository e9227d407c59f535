#pragma once

#include <atomic>
#include <cstdint>
#include <functional>
#include <istream>
#include <optional>
#include <ostream>
#include <string>
#include <vector>

#include "bilancetta/carry_on.hpp"
#include "bilancetta/piece_text.hpp"
#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// How far a batch has come: rows that are written, and bytes of the input up to the last of them.
struct BatchProgress {
  long rows = 0;
  std::uint64_t bytes = 0;
};

/// Whether the jar is to be summed up, and how that is to be told.
enum class Summary { none, text, json };

/// How a CSV of weighings is to be worked through.
struct BatchOptions {
  PieceText defaults;  ///< readings options of the command line: fill blank cells; tests never do
  VerdictOptions verdict;
  bool json = false;        ///< one JSON object a line instead of CSV
  bool keep_input = false;  ///< hand through the columns that are understood as well
  int threads = 0;          ///< 0: as many as the machine has
  bool sitting = false;     ///< the rows were weighed in one sitting: adjust them together (reads the input twice)
  bool learn = false;       ///< the jar teaches the prior (reads the input once more)
  Summary summary = Summary::none;
  std::string input_name = "standard input";
  std::optional<DoneBefore> carry_on{};           ///< pass over these rows, and write no header
  std::function<void(BatchProgress)> progress{};  ///< called after some rows, from any thread, never two at a time
  const std::atomic<bool>* stop = nullptr;        ///< once true, the rows in hand are finished and the rest is left
};

struct BatchResult {
  long rows = 0;                       ///< written by this run
  long unusable = 0;                   ///< of these, reported as status error
  bool stopped = false;                ///< by BatchOptions::stop, before the end
  std::string summary;                 ///< of the whole jar, if wanted; empty unless all rows have been written
  std::vector<std::string> remarks{};  ///< on the whole input: columns that look misspelt, a liquid that burns
};

/// Streams rows from `in` to `out` in input order, one out for each in; the same for any number of
/// threads; constant memory (but for the summary's lots and kinds, and for a sitting and a jar that teaches, see
/// there). `out` is flushed after some rows, and holds whole rows unless it fails; then the batch ends early. A bad row
/// is reported in its own row.
/// @throws Error (bad_csv) if there is no header, or no column of readings; if it is to carry on and header, number of
/// rows or the last piece's name differ. (bad_option) if a sitting or a jar that teaches comes from a stream that
/// cannot be read twice. (no_threads) if the system starts not one thread. Nothing is written before these.
BatchResult run_batch(const Tables& tables, const BatchOptions& options, std::istream& in, std::ostream& out);

}  // namespace bilancetta
