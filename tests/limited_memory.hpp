#pragma once

#include <cstddef>

namespace testing
{

/// While it lives, one request for a text of this length is refused: the first, or the one that comes after so many
/// others.
class LimitedMemory
{
 public:
  LimitedMemory(std::size_t length, int after);
  ~LimitedMemory();
  LimitedMemory(const LimitedMemory&) = delete;
  LimitedMemory& operator=(const LimitedMemory&) = delete;
  [[nodiscard]] static bool refused();
};

}  // namespace testing
