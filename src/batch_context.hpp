#pragma once

#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <unordered_map>
#include <utility>
#include <vector>

#include "answer_book.hpp"
#include "bilancetta/analysis.hpp"
#include "given_answers.hpp"

namespace bilancetta
{

/// What rows with the same place, form and answers in words share; made when first met, then only read. A number that
/// answers a test is nearly every row's own: that the test was answered counts here, the number does not.
struct BatchContext {
  Background background;
  const AnswerBook* book = nullptr;
  std::vector<ByFacts>
      facts;  ///< of each member, divided by its test likelihood (if not below 1e-30); empty if no word was answered
  std::vector<float> weighed_facts;          ///< the same as the book wants them
  std::optional<GivenAnswers> given;         ///< if anything was answered
  std::vector<AnswerBook::Coupled> coupled;  ///< tests that may tell of a metal that was told of
  std::vector<bool> answered;                ///< by test
  bool marks_by_place = true;                ///< tests that leave a mark may be proposed here
};

/// What a row needs to know before its density.
class RowContext
{
 public:
  RowContext(std::shared_ptr<const BatchContext> common, std::optional<Background> own)
      : common_(std::move(common)), own_(std::move(own))
  {
  }
  [[nodiscard]] const BatchContext& common() const { return *common_; }
  /// With the numbers of the row.
  [[nodiscard]] const Background& background() const { return own_ ? *own_ : common_->background; }

 private:
  std::shared_ptr<const BatchContext> common_;
  std::optional<Background> own_;  // if it gives numbers
};

/// Contexts met so far; at most a thousand are kept, so memory stays bounded however odd the input.
class BatchContexts
{
 public:
  explicit BatchContexts(const Prepared& prepared) : prepared_(&prepared) {}
  RowContext get(const Context& context);

 private:
  static constexpr std::size_t most = 1000;
  std::shared_ptr<const BatchContext> common_to(const Context& context, const Answers& in_words);
  [[nodiscard]] std::shared_ptr<const BatchContext> made(const Context& context, const Answers& in_words,
                                                         const std::vector<double>& prior,
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
