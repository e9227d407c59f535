#include "ordered_work.hpp"

#include <chrono>

#include "bilancetta/error.hpp"
#include "limited_threads.hpp"
#include "support.hpp"

using namespace bilancetta;

namespace
{

Chunk chunk_of(int number)
{
  Chunk chunk;
  chunk.text = std::to_string(number);
  return chunk;
}

// Later chunks are quicker, so that they are ready first.
void slowly(Chunk& chunk)
{
  std::this_thread::sleep_for(std::chrono::microseconds(std::stoi(chunk.text) % 4 == 0 ? 2000 : 10));
  chunk.out = chunk.text + ' ';
}

}  // namespace

TEST_CASE("what the threads make is written in the order in which it was added", "[ordered_work]")
{
  std::string expected;
  for (int i = 0; i < 200; ++i) {
    expected += std::to_string(i) + ' ';
  }
  for (const int threads : {1, 2, 7}) {
    std::string written;
    OrderedWork work(
        threads, [](Chunk& chunk, int) { slowly(chunk); },
        [&](const Chunk& chunk) {
          written += chunk.out;
          return true;
        });
    CHECK(work.idle());
    for (int i = 0; i < 200; ++i) {
      REQUIRE(work.add(chunk_of(i)));
    }
    work.finish();
    CHECK(work.idle());
    CHECK(written == expected);
  }
}

TEST_CASE("the threads that the system starts do the work of all; none is an error", "[ordered_work]")
{
  for (const int most : {1, 2, 4}) {
    const testing::LimitedThreads limited(most);
    std::string written;
    OrderedWork work(
        7, [](Chunk& chunk, int) { slowly(chunk); },
        [&](const Chunk& chunk) {
          written += chunk.out;
          return true;
        });
    for (int i = 0; i < 30; ++i) {
      REQUIRE(work.add(chunk_of(i)));
    }
    work.finish();
    CHECK(written.ends_with(" 28 29 "));
  }
  const testing::LimitedThreads none(0);
  const testing::Refusal r = testing::refusal_of([] {
    OrderedWork(
        7, [](Chunk&, int) {}, [](const Chunk&) { return true; });
  });
  CHECK(r.code == ErrorCode::no_threads);
  CHECK(testing::contains(r.message, "of 7 threads"));
}

TEST_CASE("nothing more is written or taken once the writer has had enough", "[ordered_work]")
{
  std::string written;
  OrderedWork work(
      3, [](Chunk& chunk, int) { slowly(chunk); },
      [&](const Chunk& chunk) {
        written += chunk.out;
        return chunk.text != "20";
      });
  int added = 0;
  while (added < 100000 && work.add(chunk_of(added))) {
    ++added;
  }
  work.finish();
  CHECK(added < 20 + 4 * 3 + 2);  // few chunks are held
  CHECK(written.ends_with(" 20 "));
}

TEST_CASE("what a thread throws comes out at the end, and nothing hangs", "[ordered_work]")
{
  OrderedWork work(
      2,
      [](Chunk& chunk, int) {
        if (chunk.text == "5") {
          throw std::bad_alloc();
        }
      },
      [](const Chunk&) { return true; });
  for (int i = 0; i < 1000 && work.add(chunk_of(i)); ++i) {
  }
  CHECK_THROWS_AS(work.finish(), std::bad_alloc);
}
