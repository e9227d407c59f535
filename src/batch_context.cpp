#include "batch_context.hpp"

#include <algorithm>
#include <numeric>

namespace bilancetta
{

namespace
{

std::string key_of_prior(const Context& context)
{
  return context.place + '\n' + std::string(name_of(context.form)) + (context.even_odds ? "\ne" : "\n");
}

}  // namespace

RowContext BatchContexts::get(const Context& context)
{
  const auto is_number = [&](const auto& given) {
    return test_called(prepared_->tables(), given.first).answers.empty();
  };
  if (std::none_of(context.answers.given.begin(), context.answers.given.end(), is_number)) {
    return {common_to(context, context.answers), std::nullopt};
  }
  Context alike = context;
  Answers in_words = context.answers;
  std::erase_if(in_words.given, is_number);
  for (auto& given : alike.answers.given) {
    if (is_number(given)) {
      given.second.clear();
    }
  }
  std::shared_ptr<const BatchContext> common = common_to(alike, in_words);
  Background own = common->background;
  for (const auto& given : context.answers.given) {
    if (is_number(given)) {
      common->book->multiply_by_number(given.first, given.second, own.test_likelihood);
    }
  }
  return {std::move(common), std::move(own)};
}

std::shared_ptr<const BatchContext> BatchContexts::common_to(const Context& context, const Answers& in_words)
{
  const std::string key = key_of(context);
  std::unique_lock lock(mutex_);
  if (const auto match = known_.find(key); match != known_.end()) {
    return match->second;
  }
  // What many contexts share is made under the lock, the rest beside other threads.
  const std::vector<double>& prior = prior_for(context);
  const AnswerBook& book = book_for(context.answers.reagent);
  lock.unlock();
  std::shared_ptr<const BatchContext> fresh = made(context, in_words, prior, book);
  lock.lock();
  if (known_.size() >= most) {
    known_.clear();
  }
  return known_.try_emplace(key, std::move(fresh)).first->second;
}

std::shared_ptr<const BatchContext> BatchContexts::made(const Context& context, const Answers& in_words,
                                                        const std::vector<double>& prior, const AnswerBook& book) const
{
  auto made = std::make_shared<BatchContext>();
  made->background.prior = prior;
  made->background.hollow = context.is_hollow_ware();
  made->background.test_likelihood.assign(made->background.prior.size(), 1.0);
  made->book = &book;
  made->marks_by_place = place_called(prepared_->tables(), context.place).marks;
  for (const AnswerBook::Test& test : made->book->tests()) {
    made->answered.push_back(std::any_of(context.answers.given.begin(), context.answers.given.end(),
                                         [&](const auto& given) { return given.first == test.row->key; }));
  }
  if (!context.answers.given.empty()) {
    made->given.emplace(book, context.answers);
  }
  if (in_words.given.empty()) {
    return made;
  }
  made->facts = made->book->facts_given(in_words);
  made->coupled = made->book->coupled_to(in_words);
  for (std::size_t m = 0; m < made->facts.size(); ++m) {
    const float likelihood = std::accumulate(made->facts[m].begin(), made->facts[m].end(), 0.0F);
    made->background.test_likelihood[m] = likelihood;
    for (float& fact : made->facts[m]) {
      fact /= std::max(likelihood, 1e-30F);
    }
  }
  made->weighed_facts = made->book->weighed(made->facts);
  return made;
}

const AnswerBook& BatchContexts::book_for(const std::string& reagent)
{
  const auto known = books_.find(reagent);
  if (known != books_.end()) {
    return known->second;
  }
  return books_.try_emplace(reagent, prepared_->tables(), prepared_->members_of_any_size(), reagent).first->second;
}

const std::vector<double>& BatchContexts::prior_for(const Context& context)
{
  const std::string key = key_of_prior(context);
  const auto known = priors_.find(key);
  if (known != priors_.end()) {
    return known->second;
  }
  return priors_.try_emplace(key, prior_of(prepared_->tables(), prepared_->members_of_any_size(), context))
      .first->second;
}

}  // namespace bilancetta
