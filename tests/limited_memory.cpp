#include "limited_memory.hpp"

#include <atomic>
#include <cstdint>
#include <cstdlib>
#include <new>

namespace
{

constexpr std::size_t none = 0, any = SIZE_MAX;
std::atomic<std::size_t> refused_bytes = none;
std::atomic<int> left = 0;
std::atomic<bool> has_refused = false;

}  // namespace

void* operator new(std::size_t bytes)
{
  const std::size_t refused = refused_bytes;
  if (refused != none && (refused == any || refused == bytes) && left-- == 0) {
    has_refused = true;
    throw std::bad_alloc();
  }
  if (void* memory = std::malloc(bytes > 0 ? bytes : 1)) {
    return memory;
  }
  throw std::bad_alloc();
}

// All that the deletes below may be asked to free: a sanitizer has one of its own.
void* operator new(std::size_t bytes, const std::nothrow_t&) noexcept
{
  return std::malloc(bytes > 0 ? bytes : 1);
}

void operator delete(void* memory) noexcept
{
  std::free(memory);
}

void operator delete(void* memory, std::size_t) noexcept
{
  std::free(memory);
}

namespace testing
{

LimitedMemory::LimitedMemory(std::size_t length, int after)
{
  has_refused = false;
  left = after;
  refused_bytes = length + 1;  // with the zero at its end
}

LimitedMemory::LimitedMemory(int after)
{
  has_refused = false;
  left = after;
  refused_bytes = any;
}

LimitedMemory::~LimitedMemory()
{
  refused_bytes = none;
}

bool LimitedMemory::refused()
{
  return has_refused;
}

}  // namespace testing
