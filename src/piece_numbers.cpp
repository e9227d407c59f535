#include "piece_numbers.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "bilancetta/error.hpp"
#include "words.hpp"

namespace bilancetta
{

namespace
{

// The number that a text begins with, and what follows it.
std::optional<double> number_at_begin(std::string_view text, std::string_view& rest)
{
  double value = 0.0;
  const bool plus = text.starts_with('+') && !text.starts_with("+-");
  const auto [end, trouble] = std::from_chars(text.data() + (plus ? 1 : 0), text.data() + text.size(), value);
  if (trouble != std::errc() || !std::isfinite(value)) {
    return std::nullopt;
  }
  rest = text.substr(static_cast<std::size_t>(end - text.data()));
  return value;
}

// A number that a blank cuts into thousands, without its blanks: "1 234.50", "12 345"; or nothing.
std::string thousands_joined(std::string_view text)
{
  std::string joined;
  int groups = 0;
  bool cut = true;
  for_each_word(text, [&](std::string_view word) {
    const auto digits = static_cast<std::size_t>(std::find_if_not(word.begin(), word.end(), is_digit) - word.begin());
    const bool first = groups++ == 0;
    cut = cut && joined.find('.') == std::string::npos && (first ? digits >= 1 && digits <= 3 : digits == 3);
    cut = cut && (digits == word.size() ||
                  (!first && word[digits] == '.' && std::all_of(word.begin() + digits + 1, word.end(), is_digit)));
    joined += word;
  });
  return cut && groups > 1 ? joined : "";
}

// What the numbers of a field are in, by its name.
std::string_view unit_of(Field field)
{
  constexpr std::pair<std::string_view, std::string_view> units[] = {
      {"_g", "grams"},           {"_mm", "millimetres"},   {"_cm2", "square centimetres"},
      {"_c", "degrees Celsius"}, {"_hpa", "hectopascals"}, {"_density", "g/cm3"}};
  for (const auto& [ending, unit] : units) {
    if (name_of(field).ends_with(ending)) {
      return unit;
    }
  }
  return "the number alone";
}

// How to write a number that is none.
std::string advice_for(Field field, std::string_view text)
{
  if (const std::string joined = thousands_joined(text); !joined.empty()) {
    return fmt::format("if the blank separates thousands, write {}", joined);
  }
  const bool signs_only = text.find_first_not_of("0123456789.,+-") == std::string_view::npos;
  if (signs_only && std::count_if(text.begin(), text.end(), [](char c) { return c == '.' || c == ','; }) > 1) {
    return "write it like 1234.5, with one decimal sign and none for thousands";
  }
  std::string_view rest;
  if (number_at_begin(text, rest) && !trimmed(rest).empty()) {
    const char sign = trimmed(rest).front();
    if (is_letter(sign) || sign == '%' || static_cast<unsigned char>(sign) >= 0x80) {
      return fmt::format("leave the unit out and write {}, like 12.345", unit_of(field));
    }
  }
  return "write it like 12.345, with a point and no unit";
}

// A number that fills `word`, a part of `text`.
double number_in(Field field, std::string_view word, std::string_view text)
{
  constexpr std::size_t quoted = 60;
  std::string_view rest;
  const std::optional<double> value = number_at_begin(word, rest);
  if (!value || !rest.empty()) {
    refuse_field(field, fmt::format("\"{}\" is not a number; {}", shortened(text, quoted), advice_for(field, text)));
  }
  return *value;
}

void check_repeats_of(const PieceText& text, Field field, const std::vector<double>& values, double unit_g)
{
  constexpr double far = 0.2;  // this and the next two are judgement
  constexpr double units = 50.0;
  constexpr double units_cut = 5.0;  // of what looks like one number
  if (values.size() < 2) {
    return;
  }
  const auto [least, most] = std::minmax_element(values.begin(), values.end());
  std::vector<std::string_view> words;
  for_each_word(text[field], [&](std::string_view word) { words.push_back(word); });
  const std::string joined = thousands_joined(text[field]);
  // Nobody begins a reading of three digits with a zero.
  const bool zero = !joined.empty() &&
                    std::any_of(words.begin() + 1, words.end(), [](std::string_view word) { return word[0] == '0'; });
  const double spread = *most - *least;
  if (!zero && (spread <= far * *least || spread <= (joined.empty() ? units : units_cut) * unit_g)) {
    return;
  }
  const auto [first, second] = std::minmax({least - values.begin(), most - values.begin()});
  throw Error(ErrorCode::bad_reading,
              fmt::format("{} and {} are no repeats of one reading. {}", words[static_cast<std::size_t>(first)],
                          words[static_cast<std::size_t>(second)],
                          joined.empty() ? "Check the decimal points, and give readings of one piece only"
                                         : fmt::format("If the blank separates thousands, write {}", joined)),
              {.field = std::string(name_of(field))});
}

}  // namespace

void refuse_field(Field field, const std::string& message)
{
  throw Error(ErrorCode::bad_option, message, {.field = std::string(name_of(field))});
}

std::vector<double> numbers_in(const PieceText& text, Field field)
{
  std::vector<double> values;
  for_each_word(text[field],
                [&](std::string_view word) { values.push_back(number_in(field, word, trimmed(text[field]))); });
  if (values.size() > 100) {
    refuse_field(field, "more than 100 repeats in one cell; give their mean as a few readings");
  }
  return values;
}

std::optional<double> maybe_number(const PieceText& text, Field field)
{
  const std::string_view number = trimmed(text[field]);
  return text[field].empty() ? std::nullopt : std::optional<double>(number_in(field, number, number));
}

double positive_number(const PieceText& text, Field field, double highest)
{
  const double value = maybe_number(text, field).value_or(0.0);
  if (!(value > 0.0 && value <= highest)) {
    refuse_field(field, fmt::format("{} is not above 0 and at most {}", value, highest));
  }
  return value;
}

void check_repeats(const PieceText& text, const Weighing& weighing)
{
  constexpr double bubble_g = 0.001;  // bubbles, fifty times this at most, do not care for the scale (judgement)
  const auto unit_g = [](const Scale& scale) { return std::max(scale.readability_g, scale.repeatability_g); };
  const double in_liquid_g = std::max(unit_g(liquid_scale_of(weighing)), bubble_g);
  check_repeats_of(text, Field::dry_g, weighing.readings.dry_g, unit_g(weighing.scale));
  check_repeats_of(text, Field::rise_g, weighing.readings.rise_g, in_liquid_g);
  check_repeats_of(text, Field::submerged_g, weighing.readings.submerged_g, in_liquid_g);
}

}  // namespace bilancetta
