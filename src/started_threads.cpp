#include "started_threads.hpp"

#include <algorithm>
#include <atomic>
#include <memory>

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

}  // namespace bilancetta
