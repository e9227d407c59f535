#pragma once

#include <chrono>
#include <cstdint>
#include <string>

#include "bilancetta/batch.hpp"

/// One line on standard error that tells how far a batch is: rows, rows a second, and time left if the size of the
/// input is known. At most five times a second; nothing if it is not to be shown.
class ProgressLine
{
 public:
  ProgressLine(bool shown, std::uint64_t input_bytes) : shown_(shown), input_bytes_(input_bytes) {}
  void show(bilancetta::BatchProgress now);
  void erase();

 private:
  using Clock = std::chrono::steady_clock;
  bool shown_;
  bool on_screen_ = false;
  std::uint64_t input_bytes_;
  bilancetta::BatchProgress first_{-1, 0};
  Clock::time_point start_{}, last_{};
};

/// Seconds in words, "about 3 minutes".
std::string duration_in_words(double seconds);
