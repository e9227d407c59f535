#include "batch_worker.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

#include "json_number.hpp"

namespace bilancetta
{

namespace
{

// Adds the columns of the input to a JSON object.
void add_input(std::string& object, const std::vector<std::string>& names, const std::vector<std::string>& cells)
{
  Json input = Json::object();
  for (std::size_t i = 0; i < names.size(); ++i) {
    input[names[i]] = cells[i];
  }
  object.pop_back();
  object += ",\"input\":" + json_text(input) + "}";
}

// By volume in steps of four, as the tables of coated pieces are, then by what each weighs for its displacement.
std::pair<double, double> place_of(const ReadRow& row)
{
  if (!row.read) {
    return {0.0, 0.0};
  }
  const Weighing& weighing = row.read->piece.weighing;
  const Displacement d = displacement_of(weighing.readings);
  const double displaced = std::max(d.displaced_g, 1e-6);
  return {std::round(0.5 * std::log2(displaced / std::max(weighing.count, 1))), d.dry_g / displaced};
}

}  // namespace

BatchWorker::BatchWorker(const BatchShared& shared, const BatchInput& input)
    : shared_(&shared),
      names_(&input.columns.own_names),
      parser_(input.columns, shared.options.defaults, input.separator, input.finest)
{
}

// JSON rows, in which the tables are the least work, keep their order, so that a stop loses none that is done.
std::vector<std::size_t> BatchWorker::order_of(const std::vector<ReadRow>& rows) const
{
  std::vector<std::size_t> order(rows.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  if (!shared_->options.json) {
    std::vector<std::pair<double, double>> place(rows.size());
    std::transform(rows.begin(), rows.end(), place.begin(), place_of);
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return place[a] < place[b]; });
  }
  return order;
}

void BatchWorker::work_on(Chunk& chunk)
{
  const BatchOptions& options = shared_->options;
  std::vector<ReadRow> rows;
  rows.reserve(chunk.rows.size());
  for (const Chunk::Row& row : chunk.rows) {
    rows.push_back(read_row(*shared_, parser_.parse(chunk.text.data() + row.begin, row.length, row.line, row.trouble)));
  }
  std::vector<std::optional<RowResult>> results(rows.size());
  for (const std::size_t i : order_of(rows)) {
    if (options.stop && *options.stop) {
      break;
    }
    results[i] = result_row(*shared_, rows[i]);
    if (options.json && options.keep_input) {
      add_input(results[i]->text, *names_, rows[i].carried);
    }
  }
  std::vector<std::optional<JarRow>> jar;
  for (; chunk.done < results.size() && results[chunk.done]; ++chunk.done) {
    RowResult& result = *results[chunk.done];
    chunk.out.append(result.text).push_back('\n');
    chunk.unusable += result.usable ? 0 : 1;
    if (shared_->content) {
      jar.push_back(std::move(result.jar));
    }
  }
  chunk.made = std::move(jar);
}

}  // namespace bilancetta
