#include "started_threads.hpp"

#include <algorithm>
#include <atomic>
#include <exception>
#include <memory>
#include <mutex>

namespace bilancetta
{

int thread_count(int threads)
{
  return threads > 0 ? threads : std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
}

std::vector<std::jthread> started_threads(int wanted, const std::function<void(int)>& work)
{
  // All wait until it is known how many of them are to work.
  constexpr int unknown = -1;
  const auto working = std::make_shared<std::atomic<int>>(unknown);
  std::vector<std::jthread> threads;
  threads.reserve(static_cast<std::size_t>(std::max(wanted, 0)));
  int count = std::max(wanted, 0);
  try {
    for (int number = 0; number < wanted; ++number) {
      threads.emplace_back([working, work, number] {
        working->wait(unknown);
        if (number < *working) {
          work(number);
        }
      });
    }
  } catch (const std::exception&) {  // of the system, or no memory
    count = std::min(static_cast<int>(threads.size() + 1) / 2, thread_count(0));
  }
  *working = count;
  working->notify_all();
  threads.erase(threads.begin() + count, threads.end());  // ends them
  return threads;
}

void for_each_index(std::size_t count, int threads, const std::function<void(std::size_t)>& work)
{
  std::atomic<std::size_t> next = 0;
  std::mutex mutex;
  std::exception_ptr trouble;
  const auto take_turns = [&](int) {
    try {
      for (std::size_t i = next++; i < count; i = next++) {
        work(i);
      }
    } catch (...) {
      const std::lock_guard lock(mutex);
      trouble = std::current_exception();
    }
  };
  const int useful = std::min(thread_count(threads), thread_count(0));  // more than there are processors gain nothing
  auto helpers = started_threads(std::min(useful, static_cast<int>(count)) - 1, take_turns);
  take_turns(0);
  helpers.clear();  // joined before anyone reads
  if (trouble) {
    std::rethrow_exception(trouble);
  }
}

}  // namespace bilancetta
