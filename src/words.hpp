#pragma once

#include <algorithm>
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

}  // namespace bilancetta
