#include "ordered_work.hpp"

#include <fmt/core.h>

#include <utility>

#include "bilancetta/error.hpp"
#include "started_threads.hpp"

namespace bilancetta
{

OrderedWork::OrderedWork(int threads, Work work, Write write) : work_(std::move(work)), write_(std::move(write))
{
  threads_ = started_threads(threads, [this](int thread) { run(thread); });
  if (threads_.empty()) {
    throw Error(ErrorCode::no_threads,
                fmt::format("of {} threads the system started none; end other programs, or allow more memory and "
                            "processes (ulimit -v, ulimit -u)",
                            threads));
  }
}

OrderedWork::~OrderedWork()
{
  {
    const std::lock_guard lock(mutex_);
    ended_ = true;
  }
  close();
}

void OrderedWork::close()
{
  {
    const std::lock_guard lock(mutex_);
    closed_ = true;
  }
  changed_.notify_all();
  threads_.clear();  // ends them
}

bool OrderedWork::add(Chunk chunk)
{
  std::unique_lock lock(mutex_);
  const long most = 4 * static_cast<long>(threads_.size());
  changed_.wait(lock, [&] { return ended_ || added_ - written_ < most; });
  if (ended_) {
    return false;
  }
  waiting_.push_back(std::move(chunk));
  ++added_;
  lock.unlock();
  changed_.notify_all();
  return true;
}

void OrderedWork::finish()
{
  close();
  if (trouble_) {
    std::rethrow_exception(trouble_);
  }
}

// Whoever has finished the next chunk writes it and all that wait behind it.
void OrderedWork::write_in_order(std::unique_lock<std::mutex>& lock)
{
  while (!writing_ && !ended_ && !made_.empty() && made_.begin()->first == written_) {
    const Chunk chunk = std::move(made_.begin()->second);
    made_.erase(made_.begin());
    writing_ = true;
    lock.unlock();
    const bool more = write_(chunk);
    lock.lock();
    writing_ = false;
    ++written_;
    ended_ = ended_ || !more;
    changed_.notify_all();
  }
}

void OrderedWork::run(int thread)
{
  std::unique_lock lock(mutex_);
  while (true) {
    changed_.wait(lock, [&] { return ended_ || closed_ || !waiting_.empty(); });
    if (ended_ || waiting_.empty()) {
      return;
    }
    Chunk chunk = std::move(waiting_.front());
    waiting_.pop_front();
    const long number = taken_++;
    lock.unlock();
    try {
      work_(chunk, thread);
      lock.lock();
      made_.emplace(number, std::move(chunk));
      write_in_order(lock);
    } catch (...) {
      if (!lock.owns_lock()) {
        lock.lock();
      }
      trouble_ = std::current_exception();
      ended_ = true;
      changed_.notify_all();
      return;
    }
  }
}

}  // namespace bilancetta
