#include "started_threads.hpp"

#include <algorithm>
#include <mutex>

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
