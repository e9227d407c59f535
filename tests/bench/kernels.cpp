// Times of the steps that a weighing and a batch row are made of.

#include <benchmark/benchmark.h>

#include <sstream>

#include "batch_columns.hpp"
#include "bilancetta/analysis.hpp"
#include "bilancetta/fit.hpp"
#include "bilancetta/sitting.hpp"
#include "csv.hpp"
#include "table_reader.hpp"

using namespace bilancetta;

namespace
{

Weighing weighing_with(int repeats)
{
  Weighing w;
  w.scale = scale_of(ScaleClass::jeweller);
  for (int i = 0; i < repeats; ++i) {
    w.readings.dry_g.push_back(4.215 + 0.001 * (i % 3));
    w.readings.rise_g.push_back(0.412 + 0.001 * (i % 4));
  }
  return w;
}

void curve(benchmark::State& state)
{
  const Weighing w = weighing_with(static_cast<int>(state.range(0)));
  for (auto step : state) {
    benchmark::DoNotOptimize(density_curve_of(w));
  }
}
BENCHMARK(curve)->Arg(1)->Arg(3)->Arg(10);

void summary(benchmark::State& state)
{
  const Weighing w = weighing_with(1);
  const DensityCurve c = density_curve_of(w);
  for (auto step : state) {
    benchmark::DoNotOptimize(summary_of(c, w));
  }
}
BENCHMARK(summary);

std::vector<Piece> sitting_of(long pieces)
{
  std::vector<Piece> all(pieces);
  for (long i = 0; i < pieces; ++i) {
    Piece& p = all[i];
    p.name = "piece " + std::to_string(i);
    p.weighing = weighing_with(1);
    p.weighing.readings.dry_g[0] += 0.001 * static_cast<double>(i % 997);
    if (i % (pieces / 5) == 0) {
      p.reference_density_g_cm3 = 10.2 + 0.01 * static_cast<double>(i % 7);
    }
  }
  return all;
}

SittingResult adjusted(const std::vector<Piece>& pieces)
{
  SittingBuilder builder;
  for (long i = 0; i < static_cast<long>(pieces.size()); ++i) {
    builder.add(i + 1, pieces[i]);
  }
  return builder.adjust();
}

// First pass of a sitting: every row looked at, five known pieces adjusted.
void sitting_first_pass(benchmark::State& state)
{
  const std::vector<Piece> pieces = sitting_of(state.range(0));
  for (auto step : state) {
    benchmark::DoNotOptimize(adjusted(pieces));
  }
}
BENCHMARK(sitting_first_pass)->Arg(100000)->Unit(benchmark::kMillisecond);

// Second pass: every weighing corrected, its sensitivities summed.
void sitting_second_pass(benchmark::State& state)
{
  const std::vector<Piece> pieces = sitting_of(state.range(0));
  const SittingResult result = adjusted(pieces);
  for (auto step : state) {
    SharedVector sum = SharedVector::Zero();
    for (long i = 0; i < static_cast<long>(pieces.size()); ++i) {
      const Weighing w = corrected(result, pieces[i].weighing, i + 1);
      benchmark::DoNotOptimize(w);
      sum += sensitivity_of(result, pieces[i].weighing, i + 1).mass;
    }
    benchmark::DoNotOptimize(shared_u(result, sum));
  }
}
BENCHMARK(sitting_second_pass)->Arg(100000)->Unit(benchmark::kMillisecond);

void evidence_of_all(benchmark::State& state)
{
  const Prepared prepared(built_in_tables(), PieceSize{0.4, {}});
  const LevelWeights weights = evidence_weights_of(density_curve_of(weighing_with(1)));
  for (auto step : state) {
    benchmark::DoNotOptimize(prepared.members(0.4).evidence(weights));
  }
}
BENCHMARK(evidence_of_all);

void fit(benchmark::State& state)
{
  const Tables& tables = built_in_tables();
  const Hypothesis h = solid_hypothesis(tables, find_material(tables, "ag-w-60"));
  for (auto step : state) {
    benchmark::DoNotOptimize(fit_of(h, 14.1, 0.05));
  }
}
BENCHMARK(fit);

// Reading, splitting and sorting into fields, per row of a realistic width.
void csv_row(benchmark::State& state)
{
  std::string csv =
      "piece,dry_g,rise_g,submerged_g,count,water_c,scale,wetting,found,magnet,notch_colour,notch_reagent,note\n";
  for (int i = 0; i < 10000; ++i) {
    csv +=
        "piece " + std::to_string(i) + ",4.215,0.412,,1,21.5,jeweller,soaped,breaker,none,white,red,\"box 3, left\"\n";
  }
  const PieceText defaults;
  std::string text;
  std::vector<std::string_view> cells;
  for (auto step : state) {
    std::istringstream in(csv);
    CsvReader reader(in);
    CsvReader::Row row;
    reader.next(row);
    text.assign(row.text);
    split_row(text.data(), text.size(), reader.separator(), cells);
    const BatchColumns columns = columns_of(cells, {}, false, {});
    RowText sorted(columns, defaults, reader.separator());
    while (reader.next(row)) {
      text.assign(row.text);
      split_row(text.data(), text.size(), reader.separator(), cells);
      sorted.read(cells);
      benchmark::DoNotOptimize(sorted.text());
    }
  }
  state.counters["rows"] =
      benchmark::Counter(10000.0 * static_cast<double>(state.iterations()), benchmark::Counter::kIsRate);
}
BENCHMARK(csv_row)->Unit(benchmark::kMillisecond);

void reading_all_tables(benchmark::State& state)
{
  for (auto step : state) {
    benchmark::DoNotOptimize(read_tables(embedded_tables()).materials.size());
  }
}
BENCHMARK(reading_all_tables)->Unit(benchmark::kMillisecond);

void preparing_one_size(benchmark::State& state)
{
  for (auto step : state) {
    benchmark::DoNotOptimize(Prepared(built_in_tables(), PieceSize{0.4, {}}).members(0.4).size());
  }
}
BENCHMARK(preparing_one_size)->Unit(benchmark::kMillisecond);

}  // namespace
