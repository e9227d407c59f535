#pragma once

namespace testing
{

/// While it lives, counts the threads that the program starts, and lets only so many start, as a system does that has
/// no more to give.
class LimitedThreads
{
 public:
  explicit LimitedThreads(int most = 1000000);
  ~LimitedThreads();
  LimitedThreads(const LimitedThreads&) = delete;
  LimitedThreads& operator=(const LimitedThreads&) = delete;
  [[nodiscard]] static int started();
};

}  // namespace testing
