#pragma once

#include <istream>

#include "batch_row.hpp"
#include "csv.hpp"
#include "ordered_work.hpp"

namespace bilancetta
{

/// How the rows of an input are to be read; the same for every pass.
struct BatchInput {
  const BatchColumns& columns;
  char separator;
  FinestDecimals finest;
  int threads;
};

/// First pass of a sitting: adjusts what its rows share. @param in  stands at the header.
SittingResult sitting_pass(const BatchShared& shared, const BatchInput& input, std::istream& in);

/// First pass of a jar that is to teach the prior, after that of the sitting. @param in  stands at the header.
std::unique_ptr<const LearnedMix> learning_pass(const BatchShared& shared, const BatchInput& input, std::istream& in);

/// Rows of a chunk. Few stop soon, hold little and leave no thread without work; many have more of a kind.
struct ChunkRows {
  std::size_t few, many;
};
inline constexpr ChunkRows rows_at_once{64, 2048};
inline constexpr ChunkRows json_rows_at_once{4, 4};  ///< a row takes a tenth of a second

/// Reads rows and hands them over in chunks: full ones (from few rows up to many as the input goes on), or what there
/// is when nothing else is being worked on and the input makes us wait. False if it was stopped before the end.
bool hand_over_rows(CsvReader& reader, OrderedWork& work, ChunkRows at_once, const std::atomic<bool>* stop);

}  // namespace bilancetta
