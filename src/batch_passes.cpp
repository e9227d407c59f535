#include "batch_passes.hpp"

#include <algorithm>
#include <any>
#include <utility>

#include "bilancetta/error.hpp"

namespace bilancetta
{

namespace
{

constexpr std::size_t bytes_at_once = 1U << 20U;

// What one row teaches.
struct Lesson {
  long line;
  Context context;
  std::string lot;
  MixRow says;
};

void add_lesson(const BatchShared& shared, const ParsedRow& row, std::vector<Lesson>& lessons)
{
  try {
    const PieceRead read = piece_of_row(shared, row);
    const Piece& piece = read.piece;
    if (read.mixed || !counts_in_jar(shared, piece, row.line)) {
      return;
    }
    const RowContext context = shared.contexts.get(piece.context);
    Analysis a = weigh_up(piece.weighing, shared.options.verdict.level);
    hold_against(a, shared.prepared.members(coat_volume_cm3(a, piece.weighing)), context.background(), false);
    lessons.push_back({row.line, piece.context, piece.lot, mix_row_of(a, context.background())});
  } catch (const Error&) {
    // What is wrong with a row is reported there by the last pass; want of memory ends the batch.
  }
}

// Reads all rows; what `make` finds in them on several threads is taken in their order.
template <typename Found, typename Make, typename Take>
void pass_over_rows(const BatchShared& shared, const BatchInput& input, std::istream& in, ChunkRows at_once, Make make,
                    Take take)
{
  CsvReader reader(in);
  CsvReader::Row header;
  reader.next(header);
  std::vector<RowParser> parsers(static_cast<std::size_t>(input.threads),
                                 RowParser(input.columns, shared.options.defaults, input.separator, input.finest));
  OrderedWork work(
      input.threads,
      [&](Chunk& chunk, int thread) {
        RowParser& parser = parsers[static_cast<std::size_t>(thread)];
        std::vector<Found> found;
        for (const Chunk::Row& row : chunk.rows) {
          make(parser.parse(chunk.text.data() + row.begin, row.length, row.line, row.trouble), found);
        }
        chunk.made = std::move(found);
      },
      [&](const Chunk& chunk) {
        for (const Found& one : *std::any_cast<std::vector<Found>>(&chunk.made)) {
          take(one);
        }
        return true;
      });
  hand_over_rows(reader, work, at_once, shared.options.stop);
  work.finish();
}

// A row of a sitting.
struct Weighed {
  long line;
  Piece piece;
};

void add_weighed(const BatchShared& shared, const ParsedRow& row, std::vector<Weighed>& weighed)
{
  try {
    PieceRead read = piece_of_row(shared, row);
    if (!read.mixed) {
      weighed.push_back({row.line, std::move(read.piece)});
    }
  } catch (const Error&) {
    // Likewise.
  }
}

}  // namespace

SittingResult sitting_pass(const BatchShared& shared, const BatchInput& input, std::istream& in)
{
  SittingBuilder builder;
  pass_over_rows<Weighed>(
      shared, input, in, rows_at_once,
      [&](const ParsedRow& row, std::vector<Weighed>& weighed) { add_weighed(shared, row, weighed); },
      [&](const Weighed& row) {
        try {
          builder.add(row.line, row.piece);
        } catch (const Error&) {
          // Likewise.
        }
      });
  return builder.adjust(input.threads);
}

std::unique_ptr<const LearnedMix> learning_pass(const BatchShared& shared, const BatchInput& input, std::istream& in)
{
  auto mix = std::make_unique<LearnedMix>(shared.prepared);
  constexpr ChunkRows few_at_once{rows_at_once.few, rows_at_once.few};  // what a row teaches is large
  pass_over_rows<Lesson>(
      shared, input, in, few_at_once,
      [&](const ParsedRow& row, std::vector<Lesson>& lessons) { add_lesson(shared, row, lessons); },
      [&](const Lesson& lesson) { mix->add(lesson.line, lesson.context, lesson.lot, lesson.says); });
  mix->learn(input.threads);
  return mix;
}

bool hand_over_rows(CsvReader& reader, OrderedWork& work, ChunkRows at_once, const std::atomic<bool>* stop)
{
  constexpr std::size_t part = 8;  // of the rows so far: a short input still keeps every thread at work
  std::size_t handed_over = 0;
  Chunk chunk;
  CsvReader::Row row;
  const auto hand_over = [&] {
    chunk.bytes = reader.bytes();
    handed_over += chunk.rows.size();
    return work.add(std::exchange(chunk, {}));
  };
  while (reader.next(row)) {
    if (stop && *stop) {
      return false;
    }
    chunk.rows.push_back({chunk.text.size(), row.text.size(), row.line, row.trouble});
    chunk.text += row.text;
    const std::size_t rows = std::clamp(handed_over / part, at_once.few, at_once.many);
    const bool full = chunk.rows.size() >= rows || chunk.text.size() >= bytes_at_once;
    if ((full || (work.idle() && !reader.ready())) && !hand_over()) {
      return false;
    }
  }
  return !(stop && *stop) && (chunk.rows.empty() || hand_over());
}

}  // namespace bilancetta
