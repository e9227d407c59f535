#pragma once

#include <any>
#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <exception>
#include <functional>
#include <map>
#include <mutex>
#include <string>
#include <string_view>
#include <thread>
#include <vector>

namespace bilancetta
{

/// Some rows of the input and, once worked on, their results.
struct Chunk {
  struct Row {
    std::size_t begin, length;  ///< in text
    long line;
    std::string_view trouble;  ///< lasts longer than the chunk
  };
  std::string text;
  std::vector<Row> rows;
  std::uint64_t bytes = 0;  ///< of the input, up to the end of the chunk
  std::string out;
  std::size_t done = 0;  ///< rows in `out`: fewer than given if the work was stopped
  long unusable = 0;
  std::any made;  ///< what else the work made of them
};

/// Threads that live as long as the object and work on chunks; what they made is written in the order in which the
/// chunks were added, while others are worked on. Few chunks are held at a time.
class OrderedWork
{
 public:
  using Work = std::function<void(Chunk&, int thread)>;
  using Write = std::function<bool(const Chunk&)>;  ///< never two at a time; false: nothing more is to be written
  /// Fewer threads where the system does not start as many. @throws Error (no_threads) if it starts none
  OrderedWork(int threads, Work work, Write write);
  ~OrderedWork();
  OrderedWork(const OrderedWork&) = delete;
  OrderedWork& operator=(const OrderedWork&) = delete;

  /// Whether everything that was added has been written.
  [[nodiscard]] bool idle() const { return written_ == added_; }
  /// Waits while too many chunks are held; false if nothing more is to be written.
  bool add(Chunk chunk);
  /// Waits until all is written, or nothing more is to be; throws what a thread has thrown.
  void finish();

 private:
  void run(int thread);
  void close();
  void write_in_order(std::unique_lock<std::mutex>& lock);

  Work work_;
  Write write_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Chunk> waiting_;
  std::map<long, Chunk> made_;
  long added_ = 0, taken_ = 0;
  std::atomic<long> written_ = 0;
  bool writing_ = false, closed_ = false, ended_ = false;
  std::exception_ptr trouble_;
  std::vector<std::jthread> threads_;
};

}  // namespace bilancetta
