#pragma once

#include <cstddef>

namespace testing
{

/// While it lives, one request for memory is refused, the one that comes after so many others: of those for a text of
/// this length, or of all.
class LimitedMemory
{
 public:
  LimitedMemory(std::size_t length, int after);
  explicit LimitedMemory(int after);
  ~LimitedMemory();
  LimitedMemory(const LimitedMemory&) = delete;
  LimitedMemory& operator=(const LimitedMemory&) = delete;
  [[nodiscard]] static bool refused();
};

}  // namespace testing
