#pragma once

#include <algorithm>
#include <string>
#include <string_view>

namespace bilancetta
{

/// Calls use(word) for each part of a text between blanks.
template <typename Use>
void for_each_word(std::string_view text, Use use)
{
  std::size_t from = 0;
  while ((from = text.find_first_not_of(" \t", from)) != std::string_view::npos) {
    const std::size_t end = std::min(text.find_first_of(" \t", from), text.size());
    use(text.substr(from, end - from));
    from = end;
  }
}

/// A number with so many decimals: what fmt writes, but quicker for the usual sizes.
std::string fixed(double value, int decimals);

/// A number for people, rounded to so many significant digits: "1300", "0.042"; never with an exponent, and without
/// zeros after its last digit.
std::string significant(double value, int digits);

}  // namespace bilancetta
