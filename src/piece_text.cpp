#include "bilancetta/piece_text.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <charconv>

#include "bilancetta/spelling.hpp"
#include "words.hpp"

namespace bilancetta
{

namespace
{

constexpr std::string_view names[field_count] = {"piece",
                                                 "dry_g",
                                                 "rise_g",
                                                 "cup_before_g",
                                                 "cup_after_g",
                                                 "submerged_g",
                                                 "holder_g",
                                                 "bottle_full_g",
                                                 "bottle_with_piece_g",
                                                 "count",
                                                 "mixed",
                                                 "water_c",
                                                 "water_c_u",
                                                 "tap_water",
                                                 "liquid_density",
                                                 "liquid_density_u",
                                                 "air_c",
                                                 "air_hpa",
                                                 "air_rh",
                                                 "scale",
                                                 "readability_g",
                                                 "repeatability_g",
                                                 "linearity_g",
                                                 "wetting",
                                                 "thread_mm",
                                                 "thread_not_tared",
                                                 "found",
                                                 "form",
                                                 "reagent",
                                                 "reagent_checked",
                                                 "magnet",
                                                 "skin_colour",
                                                 "notch_colour",
                                                 "back_colour",
                                                 "skin_reagent",
                                                 "notch_reagent",
                                                 "back_reagent",
                                                 "sides",
                                                 "edge",
                                                 "file",
                                                 "paper",
                                                 "conductivity_iacs",
                                                 "diameter_mm",
                                                 "thickness_mm",
                                                 "area_cm2",
                                                 "claim",
                                                 "as_typed",
                                                 "even_odds",
                                                 "drift_g",
                                                 "air_free",
                                                 "cup_mm",
                                                 "evaporation_g",
                                                 "soaked_g",
                                                 "bottle_c",
                                                 "bottle_with_piece_c",
                                                 "liquid_scale",
                                                 "span_u",
                                                 "reference_density",
                                                 "reference_density_u",
                                                 "reference_mass_g",
                                                 "cup_resting_g",
                                                 "lot",
                                                 "layer_mm",
                                                 "tare_rounded"};

constexpr Field reading_fields[] = {
    Field::dry_g,    Field::rise_g,        Field::cup_before_g,        Field::cup_after_g, Field::submerged_g,
    Field::holder_g, Field::bottle_full_g, Field::bottle_with_piece_g, Field::soaked_g,    Field::cup_resting_g};

}  // namespace

std::string_view name_of(Field field)
{
  return names[static_cast<int>(field)];
}

std::optional<Field> field_called(std::string_view name)
{
  const auto* const match =
      std::find_if(std::begin(names), std::end(names), [&](std::string_view own) { return same_name(own, name); });
  if (match == std::end(names)) {
    return std::nullopt;
  }
  return static_cast<Field>(match - names);
}

std::optional<Field> field_of_test(std::string_view key)
{
  constexpr int first = static_cast<int>(Field::magnet);
  static_assert(first + bench_test_keys.size() - 1 == static_cast<int>(Field::conductivity_iacs));
  const auto* const match = std::find(bench_test_keys.begin(), bench_test_keys.end(), key);
  if (match == bench_test_keys.end()) {
    return std::nullopt;
  }
  return static_cast<Field>(first + (match - bench_test_keys.begin()));
}

int decimals_of(std::string_view numbers)
{
  constexpr int finest = 6;
  constexpr std::size_t most_typed = 9;  // digits behind the point: more come from a spreadsheet, 0.30000000000000004
  int most = 0;
  for_each_word(numbers, [&](std::string_view word) {
    word.remove_prefix(word.starts_with('+') ? 1 : 0);
    double value = 0.0;
    const auto [end, trouble] = std::from_chars(word.data(), word.data() + word.size(), value);
    if (trouble != std::errc() || end != word.data() + word.size()) {
      return;  // not a number: says nothing of the scale
    }
    const std::size_t power = std::min(word.find_first_of("eE"), word.size());
    const std::size_t point = word.find('.');
    int decimals = point < power ? static_cast<int>(power - point) - 1 : 0;
    if (point < power && power - point > most_typed + 1) {
      const std::string rounded = fmt::format("{:.{}f}", value, most_typed);
      decimals = static_cast<int>(rounded.find_last_not_of('0') - rounded.find('.'));
    }
    int exponent = 0;
    if (power < word.size()) {
      std::from_chars(word.data() + power + (word[power + 1] == '+' ? 2 : 1), word.data() + word.size(), exponent);
    }
    most = std::max(most, std::clamp(decimals - exponent, 0, finest));
  });
  return most;
}

bool is_reading(Field field, bool other_scale_in_liquid)
{
  const bool dry = field == Field::dry_g || field == Field::soaked_g;
  return dry || (!other_scale_in_liquid &&
                 std::find(std::begin(reading_fields), std::end(reading_fields), field) != std::end(reading_fields));
}

int finest_decimals(const PieceText& text)
{
  const bool other_scale = !text[Field::liquid_scale].empty();
  int most = 0;
  for (const Field field : reading_fields) {
    if (is_reading(field, other_scale)) {
      most = std::max(most, decimals_of(text[field]));
    }
  }
  return most;
}

int coarsest_decimals(const PieceText& text)
{
  const bool other_scale = !text[Field::liquid_scale].empty();
  std::optional<int> least;
  for (const Field field : reading_fields) {
    if (is_reading(field, other_scale) && !text[field].empty()) {
      least = std::min(least.value_or(decimals_of(text[field])), decimals_of(text[field]));
    }
  }
  return least.value_or(0);
}

}  // namespace bilancetta
