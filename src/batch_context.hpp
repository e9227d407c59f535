#pragma once

#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <unordered_map>
#include <vector>

#include "answer_book.hpp"
#include "bilancetta/analysis.hpp"

namespace bilancetta
{

/// What rows with the same place, form and answers share; made when first met, then only read.
struct BatchContext {
  Background background;
  const AnswerBook* book = nullptr;
  std::vector<ByFacts> facts;  ///< of each member, divided by its test likelihood; empty if nothing was answered
  std::vector<AnswerBook::Coupled> coupled;  ///< tests that may tell of a metal that was told of
  std::vector<bool> answered;                ///< by test
  bool marks_by_place = true;                ///< tests that leave a mark may be proposed here
};

/// Contexts met so far; at most a thousand are kept, so memory stays bounded however odd the input.
class BatchContexts
{
 public:
  explicit BatchContexts(const Prepared& prepared) : prepared_(&prepared) {}
  std::shared_ptr<const BatchContext> get(const Context& context);

 private:
  static constexpr std::size_t most = 1000;
  [[nodiscard]] std::shared_ptr<const BatchContext> made(const Context& context, const std::vector<double>& prior,
                                                         const AnswerBook& book) const;
  const AnswerBook& book_for(const std::string& reagent);
  const std::vector<double>& prior_for(const Context& context);
  const Prepared* prepared_;
  std::mutex mutex_;
  std::unordered_map<std::string, std::shared_ptr<const BatchContext>> known_;
  std::map<std::string, AnswerBook> books_;
  std::map<std::string, std::vector<double>> priors_;
};

}  // namespace bilancetta
