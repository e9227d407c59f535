#include "words.hpp"

#include <fmt/core.h>

namespace bilancetta
{

std::string significant(double value, int digits)
{
  std::string rounded = fmt::format("{:.{}e}", value, digits - 1);
  const std::size_t exponent = rounded.find('e');
  if (exponent == std::string::npos) {
    return rounded;  // infinite, or no number
  }
  const int decimals = digits - 1 - std::stoi(rounded.substr(exponent + 1));
  std::string text = fmt::format("{:.{}f}", std::stod(rounded), std::max(0, decimals));
  if (decimals > 0) {
    text.erase(text.find_last_not_of('0') + 1);
    text.erase(text.find_last_not_of('.') + 1);
  }
  return text;
}

}  // namespace bilancetta
