#pragma once

#include "batch_passes.hpp"

namespace bilancetta
{

/// One thread's part of a batch: rows in, rows out in the same order. Rows of like pieces look up the same parts of the
/// tables, so a chunk is worked on by volume and density.
class BatchWorker
{
 public:
  BatchWorker(const BatchShared& shared, const BatchInput& input);
  void work_on(Chunk& chunk);

 private:
  [[nodiscard]] std::vector<std::size_t> order_of(const std::vector<ReadRow>& rows) const;

  const BatchShared* shared_;
  const std::vector<std::string>* names_;
  RowParser parser_;
};

}  // namespace bilancetta
