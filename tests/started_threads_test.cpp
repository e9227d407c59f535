#include "started_threads.hpp"

#include <algorithm>
#include <atomic>
#include <mutex>
#include <stdexcept>

#include "limited_threads.hpp"
#include "support.hpp"

using namespace bilancetta;
using testing::LimitedThreads;

namespace
{

// The numbers that were worked on, sorted.
std::vector<int> numbers_of(int wanted)
{
  std::vector<int> numbers;
  std::mutex mutex;
  started_threads(wanted, [&](int number) {
    const std::lock_guard lock(mutex);
    numbers.push_back(number);
  });
  std::sort(numbers.begin(), numbers.end());
  return numbers;
}

}  // namespace

TEST_CASE("as many threads work as are wanted, each with its number", "[started_threads]")
{
  CHECK(numbers_of(0).empty());
  CHECK(numbers_of(-1).empty());
  CHECK(numbers_of(1) == std::vector<int>{0});
  CHECK(numbers_of(5) == std::vector<int>{0, 1, 2, 3, 4});
}

TEST_CASE("where the system starts only some, some of them work; where it starts none, none", "[started_threads]")
{
  for (const int most : {0, 1, 2, 5, 6}) {
    const LimitedThreads limited(most);
    CHECK(static_cast<int>(numbers_of(7).size()) == std::min((most + 1) / 2, thread_count(0)));
  }
  const LimitedThreads enough(7);
  CHECK(numbers_of(7).size() == 7);
}

TEST_CASE("0 threads are as many as the machine has", "[started_threads]")
{
  CHECK(thread_count(3) == 3);
  CHECK(thread_count(0) == std::max(1, static_cast<int>(std::thread::hardware_concurrency())));
}

TEST_CASE("each index is worked on once, by any number of threads", "[started_threads]")
{
  for (const int threads : {0, 1, 2, 50}) {
    for (const std::size_t count : {0, 1, 2, 1000}) {
      std::vector<std::atomic<int>> times(count);
      for_each_index(count, threads, [&](std::size_t i) { ++times[i]; });
      CHECK(std::all_of(times.begin(), times.end(), [](const auto& n) { return n == 1; }));
    }
  }
  const LimitedThreads none(0);
  int sum = 0;
  for_each_index(10, 0, [&](std::size_t i) { sum += static_cast<int>(i); });
  CHECK(sum == 45);
}

TEST_CASE("what the work throws comes back to who asked for it", "[started_threads]")
{
  for (const int threads : {1, 2}) {
    CHECK_THROWS_AS(for_each_index(100, threads,
                                   [](std::size_t i) {
                                     if (i == 50) {
                                       throw std::range_error("50");
                                     }
                                   }),
                    std::range_error);
  }
}
