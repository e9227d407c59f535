#include "interrupt.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <csignal>

namespace
{

std::atomic<bool> asked = false;
volatile std::sig_atomic_t which = 0;
int ends[2] = {-1, -1};

static_assert(std::atomic<bool>::is_always_lock_free, "a signal handler may only use what takes no lock");

extern "C" void ask_to_stop(int signal)
{
  which = signal;
  asked = true;
  const char byte = 0;
  static_cast<void>(!write(ends[1], &byte, 1));
}

}  // namespace

void catch_interrupts()
{
  if (pipe2(ends, O_CLOEXEC | O_NONBLOCK) != 0) {
    return;  // without it the signals end the program as ever
  }
  struct sigaction action = {};
  action.sa_handler = ask_to_stop;
  action.sa_flags = static_cast<int>(SA_RESETHAND);
  for (const int signal : {SIGINT, SIGTERM}) {
    struct sigaction old = {};
    if (sigaction(signal, nullptr, &old) == 0 && old.sa_handler != SIG_IGN) {
      sigaction(signal, &action, nullptr);
    }
  }
}

const std::atomic<bool>& interrupted()
{
  return asked;
}

int interrupt_signal()
{
  return which;
}

int interrupt_descriptor()
{
  return ends[0];
}
