#include "words.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>

namespace bilancetta
{

namespace
{

std::string without_last_zeros(std::string text)
{
  text.erase(text.find_last_not_of('0') + 1);
  text.erase(text.find_last_not_of('.') + 1);
  return text;
}

std::size_t blank_at_end(std::string_view text)
{
  if (text.empty() || text.back() == ' ' || text.back() == '\t') {
    return text.empty() ? 0 : 1;
  }
  if (static_cast<unsigned char>(text.back()) >= 0x80) {
    for (const std::string_view blank : wide_blanks) {
      if (text.ends_with(blank)) {
        return blank.size();
      }
    }
  }
  return 0;
}

// @param to_whole  rounds a number of steps of the last digit
std::string in_digits(double value, int digits, double (*to_whole)(double))
{
  if (!(value > 0.0) || std::isinf(value)) {
    return value > 0.0 ? "inf" : "0";
  }
  int exponent = digits - 1 - static_cast<int>(std::floor(std::log10(value)));  // steps are 10 to minus that
  double steps = to_whole(exponent >= 0 ? value * std::pow(10.0, exponent) : value / std::pow(10.0, -exponent));
  if (steps >= std::pow(10.0, digits)) {
    steps /= 10.0;
    --exponent;
  }
  return exponent >= 0 ? fixed(steps / std::pow(10.0, exponent), exponent)
                       : fixed(steps * std::pow(10.0, -exponent), 0);
}

constexpr double nearly_none = 1e-9;  // of a step: what is binary only

}  // namespace

std::string lower_case(std::string word)
{
  std::transform(word.begin(), word.end(), word.begin(), lower_letter);
  return word;
}

std::string_view trimmed(std::string_view text)
{
  while (const std::size_t blank = blank_at_begin(text)) {
    text.remove_prefix(blank);
  }
  while (const std::size_t blank = blank_at_end(text)) {
    text.remove_suffix(blank);
  }
  return text;
}

std::string shortened(std::string_view text, std::size_t most)
{
  if (text.size() <= most) {
    return std::string(text);
  }
  std::size_t end = most;
  for (int back = 0; back < 3 && end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U; ++back) {
    --end;
  }
  return std::string(text.substr(0, end)) + " ...";
}

std::string capitalised(std::string text)
{
  if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') {
    text[0] = static_cast<char>(text[0] - 'a' + 'A');
  }
  return text;
}

std::string fixed(double value, int decimals)
{
  constexpr std::array<double, 7> steps = {1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6};
  constexpr double most = 1e12;  // in steps of the last digit, of which a product keeps a thousandth
  constexpr double near_tie = 1e-3;
  const bool usual = decimals >= 0 && decimals < static_cast<int>(steps.size());
  const double scaled = usual ? std::abs(value) * steps[decimals] : most;
  const double rest = scaled - std::floor(scaled);
  if (!(scaled < most) || std::abs(rest - 0.5) < near_tie) {
    return fmt::format("{:.{}f}", value, decimals);
  }
  // From the last digit on, with a zero before the point at least.
  std::array<char, 24> text;
  char* begin = text.data() + text.size();
  auto digits = static_cast<std::uint64_t>(std::llround(scaled));
  for (int place = 0; place <= decimals || digits > 0; ++place) {
    if (place == decimals && decimals > 0) {
      *--begin = '.';
    }
    *--begin = static_cast<char>('0' + digits % 10);
    digits /= 10;
  }
  if (std::signbit(value)) {
    *--begin = '-';
  }
  return {begin, text.data() + text.size()};
}

std::string supported(double value, double standard_uncertainty)
{
  constexpr int most_decimals = 15;
  const int decimals = standard_uncertainty > 0.0
                           ? static_cast<int>(std::ceil(1.0 - std::log10(standard_uncertainty) - 1e-9))
                           : most_decimals;
  const double step = std::pow(10.0, -std::min(decimals, most_decimals));
  const double rounded = std::round(value / step) * step;
  if (rounded == 0.0) {
    return "0";  // without a sign
  }
  std::string text = fmt::format("{:.{}f}", rounded, std::clamp(decimals, 0, most_decimals));
  return decimals > 0 ? without_last_zeros(std::move(text)) : text;
}

std::string significant(double value, int digits)
{
  // The usual sizes are quick.
  int decimals = digits;
  for (double unit = 1.0; unit <= std::abs(value) && decimals > 0; unit *= 10.0) {
    --decimals;
  }
  for (double unit = 0.1; unit > std::abs(value) && decimals < 7; unit *= 0.1) {
    ++decimals;
  }
  if (decimals > 0 && decimals < 7) {
    return without_last_zeros(fixed(value, decimals));
  }
  constexpr double shortest = 1e-9, longest = 1e15;
  if (value != 0.0 && (std::abs(value) < shortest || std::abs(value) >= longest)) {
    return fmt::format("{:.{}g}", value, digits);
  }
  std::string rounded = fmt::format("{:.{}e}", value, digits - 1);
  const std::size_t exponent = rounded.find('e');
  if (exponent == std::string::npos) {
    return rounded;  // infinite, or no number
  }
  decimals = digits - 1 - std::stoi(rounded.substr(exponent + 1));
  std::from_chars(rounded.data(), rounded.data() + rounded.size(), value);  // in any locale, unlike std::stod
  std::string text = fmt::format("{:.{}f}", value, std::max(0, decimals));
  return decimals > 0 ? without_last_zeros(text) : text;
}

std::string with_digits(double value, int digits)
{
  return in_digits(value, digits, [](double steps) { return std::round(steps); });
}

std::string low_with_digits(double low, int digits)
{
  return in_digits(low, digits, [](double steps) { return std::floor(steps + nearly_none); });
}

std::string high_with_digits(double high, int digits)
{
  return in_digits(high, digits, [](double steps) { return std::ceil(steps - nearly_none); });
}

}  // namespace bilancetta
