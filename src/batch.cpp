#include "bilancetta/batch.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <memory>

#include "batch_passes.hpp"
#include "batch_summary.hpp"
#include "batch_worker.hpp"
#include "bilancetta/error.hpp"
#include "csv.hpp"
#include "started_threads.hpp"
#include "typed_scale.hpp"

namespace bilancetta
{

namespace
{

using Cells = std::vector<std::string_view>;

BatchColumns columns_in(CsvReader& reader, const BatchOptions& options)
{
  CsvReader::Row row;
  const auto where = [&] { return Where{options.input_name, static_cast<int>(std::max(row.line, 1L))}; };
  const auto refuse = [&](std::string_view why) { throw Error(ErrorCode::bad_csv, std::string(why), where()); };
  if (!reader.next(row)) {
    refuse("the file is empty; the first line must name the columns");
  }
  if (!row.trouble.empty()) {
    refuse(row.trouble);
  }
  std::string text(row.text);
  Cells cells;
  const std::size_t count = split_row(text.data(), text.size(), reader.separator(), cells);
  if (count > most_columns) {
    refuse(
        fmt::format("{} columns, but at most {} are taken; is this really a table of weighings?", count, most_columns));
  }
  return columns_of(cells, result_columns(), options.keep_input, where());
}

// A scale's step is the finest decimal in its columns, unless a scale was named: spreadsheets drop zeros.
FinestDecimals finest_in_file(std::istream& in, const BatchOptions& options)
{
  const auto start = in.tellg();
  CsvReader reader(in);
  const BatchColumns columns = columns_in(reader, options);
  std::size_t needed = 1;
  for (const auto& [column, field] : columns.read) {
    needed = is_reading(field, false) || field == Field::liquid_scale ? std::max(needed, column + 1) : needed;
  }
  const bool liquid_scale = !options.defaults[Field::liquid_scale].empty();
  FinestDecimals finest;
  std::string text;
  Cells cells;
  for (CsvReader::Row row; reader.next(row) && !(options.stop && *options.stop);) {
    if (row.trouble.empty()) {
      text.assign(row.text);
      split_row(text.data(), text.size(), reader.separator(), cells, needed);
      finest = finest_reading(cells, columns, reader.separator(), finest, liquid_scale);
    }
  }
  in.clear();
  in.seekg(start);
  return finest;
}

// What says that the scale that was named for all rows did not read them, or nothing.
std::string doubt_of_scale(const BatchColumns& columns, double step_g, const FinestDecimals& shown)
{
  const bool rows_name_theirs = std::any_of(columns.read.begin(), columns.read.end(), [](const auto& read) {
    return read.field == Field::scale || read.field == Field::readability_g;
  });
  const int decimals = decimals_shown({step_g, 0.0, 0.0});
  // Of one or two rows the zeros may have been dropped.
  if (rows_name_theirs || shown.rows_in_liquid < 3 || shown.of_all() >= decimals) {
    return {};
  }
  return fmt::format(
      "no weight has more than {} decimals, but the scale that was named shows {}: if it does not, the bands are too "
      "narrow; name the scale as it is, or leave it to the decimals",
      shown.of_all(), decimals);
}

// On the columns, and on a liquid and a scale that all rows share.
std::vector<std::string> remarks_on(const BatchColumns& columns, const PieceText& defaults, const FinestDecimals& shown,
                                    const FinestDecimals& finest)
{
  std::vector<std::string> remarks = columns.remarks;
  const std::string& liquid = defaults[Field::liquid_density];
  double g_cm3 = 1.0;
  std::from_chars(liquid.data(), liquid.data() + liquid.size(), g_cm3);
  if (g_cm3 < likely_burns_below_g_cm3) {
    remarks.emplace_back(burning_liquid_warning);
  }
  if (finest.of_two_scales()) {
    remarks.push_back(fmt::format(
        "the dry weights have {} decimals and the readings in the liquid {}, so two scales are taken to have "
        "read them; if one did and zeros are missing, name it with --scale",
        finest.dry, finest.in_liquid));
  }
  if (const std::optional<double> step_g = named_step_g(defaults)) {
    if (std::string doubt = doubt_of_scale(columns, *step_g, shown); !doubt.empty()) {
      remarks.push_back(std::move(doubt));
    }
  }
  return remarks;
}

// Whether the input can be read twice; refused if it has to be and cannot.
bool can_be_read_twice(std::istream& in, const BatchOptions& options)
{
  const bool can = in.tellg() != std::istream::pos_type(-1);
  in.clear();
  if (!can && (options.sitting || options.learn)) {
    throw Error(ErrorCode::bad_option, "--sitting and --learn read the rows twice; give a file, not a stream",
                {.file = options.input_name});
  }
  return can;
}

std::string header_line(const BatchColumns& columns)
{
  std::string line;
  for (const auto* names : {&result_columns(), &columns.carried_names}) {
    for (const std::string& name : *names) {
      line += line.empty() ? "" : ",";
      append_cell(line, name);
    }
  }
  return line;
}

// Passes over the rows that an earlier run has written, and looks whether they can be those.
void pass_over(CsvReader& reader, const DoneBefore& done, const BatchColumns& columns, const BatchOptions& options)
{
  const auto refuse = [&](const std::string& why) {
    throw Error(ErrorCode::bad_csv, why + "; begin again with --out, or give the same input and options as before",
                {.file = options.input_name});
  };
  if (!options.json && done.header != header_line(columns)) {
    refuse("the columns that were written before are not those of this input");
  }
  CsvReader::Row row;
  for (long i = 0; i < done.rows; ++i) {
    if (!reader.next(row)) {
      refuse(fmt::format("has {} rows, but {} were done before", i, done.rows));
    }
  }
  if (options.json || done.rows == 0) {
    return;
  }
  RowText text(columns, options.defaults, reader.separator());
  Cells cells, written;
  std::string input_row(row.text), output_row(done.last_row);
  split_row(input_row.data(), input_row.size(), reader.separator(), cells);
  split_row(output_row.data(), output_row.size(), ',', written);
  text.read(cells);
  if (row.trouble.empty() && written.front() != text.text()[Field::piece]) {
    refuse(fmt::format("piece \"{}\" stands where piece \"{}\" was done before", text.text()[Field::piece],
                       written.front()));
  }
}

// Everything that is made before the first row is judged.
class Preparation
{
 public:
  Preparation(const Tables& tables, const BatchOptions& options, const BatchInput& input, std::istream& in)
      : prepared_(tables, options.json ? Member::Serves::both : Member::Serves::rows, input.threads),
        contexts_(prepared_),
        shared_{options, prepared_, contexts_, mixture_range_of(tables), {}, {}, {}}
  {
    if (options.sitting) {
      rewound(in, [&] { shared_.sitting = sitting_pass(shared_, input, in); });
    }
    if (options.learn) {
      rewound(in, [&] { shared_.mix = learning_pass(shared_, input, in); });
    }
    if (options.summary != Summary::none) {
      shared_.content = std::make_unique<const PreciousContent>(prepared_.tables());
    }
  }
  [[nodiscard]] const BatchShared& shared() const { return shared_; }

 private:
  template <typename Pass>
  static void rewound(std::istream& in, Pass pass)
  {
    const auto start = in.tellg();
    pass();
    in.clear();
    in.seekg(start);
  }

  Prepared prepared_;
  BatchContexts contexts_;
  BatchShared shared_;
};

}  // namespace

BatchResult run_batch(const Tables& tables, const BatchOptions& options, std::istream& in, std::ostream& out)
{
  const FinestDecimals shown = can_be_read_twice(in, options) ? finest_in_file(in, options) : FinestDecimals{};
  const FinestDecimals finest = named_step_g(options.defaults) ? FinestDecimals{} : shown;
  const auto start = in.tellg();
  auto reader = std::make_unique<CsvReader>(in);
  const BatchColumns columns = columns_in(*reader, options);
  if (options.stop && *options.stop) {
    return {.stopped = true, .summary = {}};  // that may have been half a header
  }
  const bool goes_on = options.carry_on && (options.carry_on->rows > 0 || !options.carry_on->header.empty());
  if (goes_on) {
    pass_over(*reader, *options.carry_on, columns, options);
  }
  const int threads = thread_count(options.threads);
  const BatchInput input{columns, reader->separator(), finest, threads};
  if (options.sitting || options.learn) {
    in.clear();
    in.seekg(start);
  }
  const Preparation preparation(tables, options, input, in);
  const BatchShared& shared = preparation.shared();
  if (options.sitting || options.learn) {
    reader = std::make_unique<CsvReader>(in);
    columns_in(*reader, options);
  }
  std::vector<BatchWorker> workers(static_cast<std::size_t>(threads), BatchWorker(shared, input));
  const long before = options.carry_on ? options.carry_on->rows : 0;
  Jar jar;
  BatchResult result;
  result.remarks = remarks_on(columns, options.defaults, shown, finest);
  OrderedWork work(
      threads, [&](Chunk& chunk, int thread) { workers[static_cast<std::size_t>(thread)].work_on(chunk); },
      [&](const Chunk& chunk) {
        if (!out.write(chunk.out.data(), static_cast<std::streamsize>(chunk.out.size())).flush()) {
          return false;
        }
        if (shared.content) {
          add_to(jar, chunk);
        }
        result.rows += static_cast<long>(chunk.done);
        result.unusable += chunk.unusable;
        if (options.progress) {
          options.progress({before + result.rows, chunk.bytes});
        }
        result.stopped = chunk.done < chunk.rows.size();
        return !result.stopped;
      });
  if (!goes_on && !options.json) {  // not before: a refused run is to leave nothing behind
    out << header_line(columns) << '\n' << std::flush;
  }
  const bool all = hand_over_rows(*reader, work, options.json ? json_rows_at_once : rows_at_once, options.stop);
  work.finish();
  result.stopped = result.stopped || (out && !(all && work.idle()));
  if (shared.content && out && !result.stopped) {
    result.summary = summary_of(shared, jar, finest);
  }
  return result;
}

}  // namespace bilancetta
