#include "progress.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <iostream>

using namespace bilancetta;

std::string duration_in_words(double seconds)
{
  const auto in = [](double number, const char* unit) {
    return fmt::format("about {:.0f} {}{}", number, unit, std::round(number) == 1.0 ? "" : "s");
  };
  return seconds < 99.5        ? in(std::max(seconds, 1.0), "second")
         : seconds < 99.5 * 60 ? in(seconds / 60.0, "minute")
                               : in(seconds / 3600.0, "hour");
}

void ProgressLine::show(BatchProgress now)
{
  const auto time = Clock::now();
  if (!shown_ || time - last_ < std::chrono::milliseconds(200)) {
    return;
  }
  last_ = time;
  if (first_.rows < 0) {  // what a run before has done, or the start-up, says nothing of the rate
    first_ = now;
    start_ = time;
    return;
  }
  const double seconds = std::chrono::duration<double>(time - start_).count();
  const double rate = static_cast<double>(now.rows - first_.rows) / seconds;
  std::string line = fmt::format("{} rows, {:.0f} a second", now.rows, rate);
  if (input_bytes_ > now.bytes && now.bytes > first_.bytes) {
    const double left = static_cast<double>(input_bytes_ - now.bytes) / static_cast<double>(now.bytes - first_.bytes);
    line += fmt::format(", {} left", duration_in_words(left * seconds));
  }
  std::cerr << "\r\x1b[K" << line << std::flush;
  on_screen_ = true;
}

void ProgressLine::erase()
{
  if (on_screen_) {
    std::cerr << "\r\x1b[K" << std::flush;
    on_screen_ = false;
  }
}
