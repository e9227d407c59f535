#include "limited_threads.hpp"

#include <dlfcn.h>
#include <pthread.h>

#include <atomic>
#include <cerrno>

namespace
{

std::atomic<bool> limited = false;
std::atomic<int> allowed = 0;
std::atomic<int> count = 0;

}  // namespace

// Stands before the C library's function of this name.
extern "C" int pthread_create(pthread_t* thread, const pthread_attr_t* attributes, void* (*start)(void*),
                              void* argument) noexcept
{
  using Create = int (*)(pthread_t*, const pthread_attr_t*, void* (*)(void*), void*);
  static const auto create = reinterpret_cast<Create>(dlsym(RTLD_NEXT, "pthread_create"));
  if (limited && allowed-- <= 0) {
    return EAGAIN;
  }
  const int trouble = create(thread, attributes, start, argument);
  count += trouble == 0 ? 1 : 0;
  return trouble;
}

namespace testing
{

LimitedThreads::LimitedThreads(int most)
{
  allowed = most;
  count = 0;
  limited = true;
}

LimitedThreads::~LimitedThreads()
{
  limited = false;
}

int LimitedThreads::started()
{
  return count;
}

}  // namespace testing
