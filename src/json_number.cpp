#include "json_number.hpp"

#include <array>
#include <charconv>
#include <string_view>

namespace bilancetta
{

namespace
{

constexpr int most_digits = 9;

// Digits from the first to the last that is not zero, an exponent aside.
int significant_digits(std::string_view number)
{
  int digits = 0;
  int kept = 0;
  for (const char c : number.substr(0, number.find('e'))) {
    digits += (c >= '1' && c <= '9') || (c == '0' && digits > 0) ? 1 : 0;
    kept = c >= '1' && c <= '9' ? digits : kept;
  }
  return kept;
}

std::string plain_text(const Json& json)
{
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

// The JSON library writes some numbers with all their digits, though fewer give the same: 10.238737799999999.
std::string number_text(const Json& json)
{
  std::string text = plain_text(json);
  if (significant_digits(text) > most_digits) {
    std::array<char, 32> digits{};
    const auto written = std::to_chars(digits.data(), digits.data() + digits.size(), json.get<double>(),
                                       std::chars_format::general, most_digits);
    text.assign(digits.data(), written.ptr);
  }
  return text;
}

void add_line(std::string& text, int indent, int depth)
{
  if (indent >= 0) {
    text.append("\n").append(static_cast<std::size_t>(indent) * static_cast<std::size_t>(depth), ' ');
  }
}

void add_value(std::string& text, const Json& json, int indent, int depth)
{
  if (!json.is_structured() || json.empty()) {
    text += json.is_number_float() ? number_text(json) : plain_text(json);
    return;
  }
  text += json.is_object() ? '{' : '[';
  bool first = true;
  for (const auto& [key, value] : json.items()) {
    text += first ? "" : ",";
    first = false;
    add_line(text, indent, depth + 1);
    if (json.is_object()) {
      text.append(plain_text(key)).append(indent >= 0 ? ": " : ":");
    }
    add_value(text, value, indent, depth + 1);
  }
  add_line(text, indent, depth);
  text += json.is_object() ? '}' : ']';
}

}  // namespace

std::string json_text(const Json& json, int indent)
{
  std::string text;
  add_value(text, json, indent, 0);
  return text;
}

}  // namespace bilancetta
