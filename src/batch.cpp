#include "bilancetta/batch.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <thread>

#include "batch_row.hpp"
#include "bilancetta/error.hpp"
#include "csv.hpp"

namespace bilancetta
{

namespace
{

constexpr std::size_t rows_at_once = 2048;

// Where each column of the input goes: into a field, or through to the output.
struct Columns {
  std::vector<std::optional<Field>> field;
  std::vector<std::string> carried_names;
  std::vector<std::size_t> carried;
};

std::string trimmed(const std::string& text)
{
  const auto first = text.find_first_not_of(" \t");
  const auto last = text.find_last_not_of(" \t");
  return first == std::string::npos ? "" : text.substr(first, last - first + 1);
}

Columns columns_of(const CsvReader::Row& header, const std::string& input_name)
{
  Columns columns;
  bool readings = false;
  for (std::size_t i = 0; i < header.cells.size(); ++i) {
    const std::string name = trimmed(header.cells[i]);
    const auto field = field_called(name);
    if (field && std::find(columns.field.begin(), columns.field.end(), field) != columns.field.end()) {
      throw Error(ErrorCode::bad_csv, fmt::format("column \"{}\" stands twice; keep one", name),
                  {.file = input_name, .line = 1});
    }
    columns.field.push_back(field);
    readings = readings || field == Field::dry_g;
    if (!field) {
      const auto& taken = result_columns();
      const bool clash = std::find(taken.begin(), taken.end(), name) != taken.end();
      columns.carried.push_back(i);
      columns.carried_names.push_back((clash ? "in_" : "") + name);
    }
  }
  if (!readings) {
    throw Error(ErrorCode::bad_csv,
                "no column dry_g; the first line must name the columns, such as piece, dry_g, rise_g (see docs/cli.md)",
                {.file = input_name, .line = 1});
  }
  return columns;
}

PieceText text_of(const CsvReader::Row& row, const Columns& columns, const PieceText& defaults, char separator)
{
  PieceText text;
  for (std::size_t i = 0; i < std::min(row.cells.size(), columns.field.size()); ++i) {
    if (!columns.field[i]) {
      continue;
    }
    std::string cell = trimmed(row.cells[i]);
    if (separator != ',' && *columns.field[i] != Field::piece) {
      std::replace(cell.begin(), cell.end(), ',', '.');
    }
    text[*columns.field[i]] = std::move(cell);
  }
  for (int f = 0; f < field_count; ++f) {
    const Field field = static_cast<Field>(f);
    const bool test = field >= Field::magnet && field <= Field::conductivity_iacs;
    if (text[field].empty() && !test) {
      text[field] = defaults[field];
    }
  }
  return text;
}

// The scale's step is the finest decimal in the whole file: spreadsheets drop zeros. A stream that cannot
// be read twice is judged row by row.
int finest_in_file(std::istream& in, const BatchOptions& options)
{
  const auto start = in.tellg();
  if (start == std::istream::pos_type(-1)) {
    in.clear();
    return 0;
  }
  CsvReader reader(in);
  CsvReader::Row row;
  int finest = 0;
  if (reader.next(row) && row.trouble.empty()) {
    const Columns columns = columns_of(row, options.input_name);
    while (reader.next(row)) {
      finest = std::max(finest, finest_decimals(text_of(row, columns, options.defaults, reader.separator())));
    }
  }
  in.clear();
  in.seekg(start);
  return finest;
}

// Rows read at once, worked on by all threads, in input order.
class RowsAtOnce
{
 public:
  RowsAtOnce(const Prepared& prepared, BatchContexts& contexts, const BatchOptions& options, const Columns& columns,
             int finest)
      : prepared_(prepared), contexts_(contexts), options_(options), columns_(columns), finest_(finest)
  {
  }

  [[nodiscard]] std::vector<RowResult> work_on(const std::vector<CsvReader::Row>& rows, char separator,
                                               int threads) const
  {
    std::vector<RowResult> results(rows.size());
    const auto work = [&](std::size_t part) {
      for (std::size_t i = part; i < rows.size(); i += static_cast<std::size_t>(threads)) {
        results[i] = one(rows[i], separator);
      }
    };
    std::vector<std::thread> helpers;
    for (int part = 1; part < threads && part < static_cast<int>(rows.size()); ++part) {
      helpers.emplace_back(work, part);
    }
    work(0);
    for (std::thread& helper : helpers) {
      helper.join();
    }
    return results;
  }

 private:
  [[nodiscard]] RowResult one(const CsvReader::Row& row, char separator) const
  {
    const PieceText text = text_of(row, columns_, options_.defaults, separator);
    std::vector<std::string> carried;
    for (const std::size_t column : columns_.carried) {
      carried.push_back(column < row.cells.size() ? row.cells[column] : "");
    }
    std::string trouble = row.trouble;
    if (trouble.empty() && row.cells.size() > columns_.field.size()) {
      trouble = fmt::format("{} cells, but the header names {} columns", row.cells.size(), columns_.field.size());
    }
    return result_row(prepared_, contexts_, options_, text, std::max(finest_, finest_decimals(text)),
                      fmt::format("line {}", row.line), trouble, carried);
  }

  const Prepared& prepared_;
  BatchContexts& contexts_;
  const BatchOptions& options_;
  const Columns& columns_;
  int finest_;
};

}  // namespace

BatchResult run_batch(const Tables& tables, const BatchOptions& options, std::istream& in, std::ostream& out)
{
  const int finest = options.defaults[Field::scale].empty() ? finest_in_file(in, options) : 0;
  CsvReader reader(in);
  CsvReader::Row header;
  if (!reader.next(header) || !header.trouble.empty()) {
    throw Error(ErrorCode::bad_csv,
                header.trouble.empty() ? "the file is empty; the first line must name the columns" : header.trouble,
                {.file = options.input_name, .line = 1});
  }
  const Columns columns = columns_of(header, options.input_name);
  if (!options.json) {
    std::string line;
    for (const auto* names : {&result_columns(), &columns.carried_names}) {
      for (const std::string& name : *names) {
        line += line.empty() ? "" : ",";
        append_cell(line, name);
      }
    }
    out << line << '\n';
  }
  const Prepared prepared(tables);
  BatchContexts contexts(prepared);
  const int threads =
      options.threads > 0 ? options.threads : std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
  const RowsAtOnce worker(prepared, contexts, options, columns, finest);
  BatchResult result;
  for (bool more = true; more && out;) {
    std::vector<CsvReader::Row> rows;
    CsvReader::Row row;
    while (rows.size() < rows_at_once && (more = reader.next(row))) {
      rows.push_back(std::move(row));
    }
    const std::vector<RowResult> results = worker.work_on(rows, reader.separator(), threads);
    for (const RowResult& one : results) {
      out << one.text << '\n';
      ++result.rows;
      result.unusable += one.usable ? 0 : 1;
    }
  }
  return result;
}

}  // namespace bilancetta
