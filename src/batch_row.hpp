#pragma once

#include <memory>
#include <mutex>
#include <string>
#include <unordered_map>
#include <vector>

#include "bilancetta/batch.hpp"

namespace bilancetta
{

/// Column names of a result row, in order.
const std::vector<std::string>& result_columns();

/// What rows with the same place, form and answers share; made when first met, then only read.
struct SharedContext {
  Background background;
  std::vector<Proposal> proposals;
};
class ContextCache
{
 public:
  explicit ContextCache(const Prepared& prepared) : prepared_(&prepared) {}
  std::shared_ptr<const SharedContext> get(const Context& context);

 private:
  static constexpr std::size_t most = 100;
  const Prepared* prepared_;
  std::mutex mutex_;
  std::unordered_map<std::string, std::shared_ptr<const SharedContext>> known_;
};

/// One row in, one row out (without line end). `usable` is false for status error.
struct RowResult {
  std::string text;
  bool usable = true;
};
/// @param trouble  why the CSV row itself could not be read, or empty
/// @param carried  cells that are handed through after the result columns
RowResult result_row(const Prepared& prepared, ContextCache& contexts, const BatchOptions& options,
                     const PieceText& text, int decimals, const std::string& where, const std::string& trouble,
                     const std::vector<std::string>& carried);

}  // namespace bilancetta
