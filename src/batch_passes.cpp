#include "batch_passes.hpp"

#include <algorithm>
#include <any>
#include <utility>

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
  } catch (const std::exception&) {
    // It is reported in its own row by the last pass.
  }
}

}  // namespace

SittingResult sitting_pass(const BatchShared& shared, const BatchInput& input, std::istream& in)
{
  SittingBuilder builder;
  CsvReader reader(in);
  CsvReader::Row row;
  reader.next(row);  // the header
  RowParser parser(input.columns, shared.options.defaults, input.separator, input.finest);
  std::string text;
  while (reader.next(row)) {
    text.assign(row.text);
    try {
      const PieceRead read = piece_of_row(shared, parser.parse(text.data(), text.size(), row.line, row.trouble));
      if (!read.mixed) {
        builder.add(row.line, read.piece);
      }
    } catch (const std::exception&) {
      // It is reported in its own row by the last pass.
    }
  }
  return builder.adjust();
}

std::unique_ptr<const LearnedMix> learning_pass(const BatchShared& shared, const BatchInput& input, std::istream& in)
{
  auto mix = std::make_unique<LearnedMix>(shared.prepared);
  CsvReader reader(in);
  CsvReader::Row header;
  reader.next(header);
  std::vector<RowParser> parsers(static_cast<std::size_t>(input.threads),
                                 RowParser(input.columns, shared.options.defaults, input.separator, input.finest));
  OrderedWork work(
      input.threads,
      [&](Chunk& chunk, int thread) {
        std::vector<Lesson> lessons;
        for (const Chunk::Row& row : chunk.rows) {
          add_lesson(shared,
                     parsers[static_cast<std::size_t>(thread)].parse(chunk.text.data() + row.begin, row.length,
                                                                     row.line, row.trouble),
                     lessons);
        }
        chunk.made = std::move(lessons);
      },
      [&](const Chunk& chunk) {
        for (const Lesson& lesson : *std::any_cast<std::vector<Lesson>>(&chunk.made)) {
          mix->add(lesson.line, lesson.context, lesson.lot, lesson.says);
        }
        return true;
      });
  hand_over_rows(reader, work, {rows_at_once.few, rows_at_once.few}, shared.options.stop);
  work.finish();
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
