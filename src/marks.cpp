#include "marks.hpp"

#include <algorithm>

#include "bilancetta/spelling.hpp"

namespace bilancetta
{

namespace
{

// Letters of the unit of karats that a folded text begins with, or 0.
std::size_t letters_of_karat(std::string_view text)
{
  for (const std::string_view unit : {"karat", "carat", "kt", "ct", "k"}) {
    if (text.starts_with(unit)) {
      return unit.size();
    }
  }
  return 0;
}

// Letters of a karat or a share ("12k", "12-kt", "1/20", "1/20th") that a folded text begins with, or 0.
std::size_t letters_of_amount(std::string_view text)
{
  const std::size_t number = std::min(text.find_first_not_of("0123456789/"), text.size());
  const std::string_view unit = text.substr(number);
  const std::size_t gap = unit.starts_with('-') ? 1 : 0;
  if (const std::size_t karat = letters_of_karat(unit.substr(gap)); number > 0 && karat > 0) {
    return number + gap + karat;
  }
  if (text.substr(0, number).find('/') == std::string_view::npos) {
    return 0;
  }
  return number + (unit.starts_with("th") ? 2 : 0);
}

}  // namespace

std::string plain_mark(std::string_view name)
{
  std::string mark = folded(name);
  const std::size_t number = std::min(mark.find_first_not_of("0123456789."), mark.size());
  const std::size_t letters = std::min(mark.find_first_not_of('-', number), mark.size());
  const std::string unit = mark.substr(letters);
  if (number == mark.size()) {
    mark.erase(0, mark.find_first_not_of('0'));
  } else if (unit == "k" || unit == "kt" || unit == "ct") {
    mark.erase(number, letters - number);
  }
  return mark;
}

std::string mark_of_coat(std::string_view name)
{
  std::string mark = folded(name);
  std::erase(mark, '.');
  std::string coat;
  for (std::string_view left = mark; !left.empty();) {
    const std::size_t amount = letters_of_amount(left);
    const std::size_t length = amount > 0 ? amount : std::min(left.find('-'), left.size());
    if (amount == 0 && length > 0) {
      coat += (coat.empty() ? "" : "-") + std::string(left.substr(0, length));
    }
    left.remove_prefix(length);
    left.remove_prefix(left.starts_with('-') ? 1 : 0);
  }
  return coat;
}

}  // namespace bilancetta
