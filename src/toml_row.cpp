#include "toml_row.hpp"

#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "bilancetta/error.hpp"

namespace bilancetta
{

void TomlRow::refuse(std::string_view field, const std::string& message) const
{
  const toml::node* node = table_->get(field);
  const int at = node ? static_cast<int>(node->source().begin.line) : line();
  const auto key = table_->get_as<std::string>("key");
  const std::string row = key ? fmt::format("row \"{}\", {}", key->get(), field) : std::string(field);
  throw Error(ErrorCode::bad_table, message, {.file = file_, .line = at, .field = row});
}

std::string TomlRow::text(std::string_view field) const
{
  const toml::node* node = table_->get(field);
  if (!node || !node->is_string()) {
    refuse(field, "a text in quotes is required here");
  }
  return node->as_string()->get();
}

std::string TomlRow::text_or(std::string_view field, std::string_view otherwise) const
{
  return has(field) ? text(field) : std::string(otherwise);
}

double TomlRow::number(std::string_view field) const
{
  const toml::node* node = table_->get(field);
  const auto value = node ? node->value<double>() : std::nullopt;
  if (!value || !std::isfinite(*value)) {
    refuse(field, "a number is required here");
  }
  return *value;
}

double TomlRow::number_or(std::string_view field, double otherwise) const
{
  return has(field) ? number(field) : otherwise;
}

std::string TomlRow::word(std::string_view field, std::initializer_list<std::string_view> allowed) const
{
  std::string value = text(field);
  if (std::find(allowed.begin(), allowed.end(), value) == allowed.end()) {
    refuse(field, fmt::format("\"{}\" is not one of {}", value, fmt::join(allowed, ", ")));
  }
  return value;
}

int TomlRow::whole(std::string_view field, int low, int high) const
{
  const double value = number(field);
  if (!(value >= low && value <= high && value == std::floor(value))) {
    refuse(field, fmt::format("{} is not a whole number from {} to {}", value, low, high));
  }
  return static_cast<int>(value);
}

double TomlRow::chance(std::string_view field) const
{
  const double value = number(field);
  if (value < 0.0 || value > 1.0) {
    refuse(field, fmt::format("{} is no chance; write a number from 0 to 1", value));
  }
  return value;
}

bool TomlRow::flag_or(std::string_view field, bool otherwise) const
{
  if (!has(field)) {
    return otherwise;
  }
  const auto value = table_->get(field)->value<bool>();
  if (!value) {
    refuse(field, "true or false is required here");
  }
  return *value;
}

Range TomlRow::range(std::string_view field) const
{
  const toml::array* array = table_->get_as<toml::array>(field);
  if (!array || array->size() != 3) {
    refuse(field, "three numbers [low, typical, high] are required here");
  }
  double value[3];
  for (int i = 0; i < 3; ++i) {
    const auto number = array->get(i)->value<double>();
    if (!number || !std::isfinite(*number)) {
      refuse(field, "three numbers [low, typical, high] are required here");
    }
    value[i] = *number;
  }
  if (!(value[0] <= value[1] && value[1] <= value[2])) {
    refuse(field, fmt::format("[{}, {}, {}] is not in the order low, typical, high", value[0], value[1], value[2]));
  }
  return {value[0], value[1], value[2]};
}

std::vector<std::string> TomlRow::texts(std::string_view field) const
{
  std::vector<std::string> all;
  if (!has(field)) {
    return all;
  }
  const toml::array* array = table_->get_as<toml::array>(field);
  if (!array) {
    refuse(field, "a list of texts is required here");
  }
  for (const toml::node& node : *array) {
    const auto value = node.value<std::string>();
    if (!value) {
      refuse(field, "every entry of this list must be a text in quotes");
    }
    all.push_back(*value);
  }
  return all;
}

std::map<std::string, double> TomlRow::numbers(std::string_view field) const
{
  std::map<std::string, double> all;
  const auto table = inner(field);
  if (table) {
    for (const auto& [key, node] : *table->table_) {
      all[std::string(key.str())] = table->number(key.str());
    }
  }
  return all;
}

std::map<std::string, double> TomlRow::chances(std::string_view field) const
{
  std::map<std::string, double> all = numbers(field);
  double sum = 0.0;
  for (const auto& [answer, chance] : all) {
    if (chance <= 0.0 || chance >= 1.0) {
      refuse(field,
             fmt::format("the chance of \"{}\" is {}; it must lie between 0 and 1, ends excluded", answer, chance));
    }
    sum += chance;
  }
  if (std::abs(sum - 1.0) > 1e-4) {
    refuse(field, fmt::format("the chances sum to {}, not 1", sum));
  }
  return all;
}

std::map<std::string, Range> TomlRow::ranges(std::string_view field) const
{
  std::map<std::string, Range> all;
  const auto table = inner(field);
  if (table) {
    for (const auto& [key, node] : *table->table_) {
      all[std::string(key.str())] = table->range(key.str());
    }
  }
  return all;
}

std::map<std::string, Commonness> TomlRow::found(std::string_view field) const
{
  std::map<std::string, Commonness> all;
  const auto table = inner(field);
  if (!table) {
    return all;
  }
  for (const auto& [key, node] : *table->table_) {
    const std::string word = table->text(key.str());
    const auto values = {Commonness::rare, Commonness::sometimes, Commonness::common, Commonness::chief};
    const auto* const match =
        std::find_if(values.begin(), values.end(), [&](Commonness c) { return name_of(c) == word; });
    if (match == values.end()) {
      refuse(field, fmt::format("\"{}\" is not one of chief, common, sometimes, rare", word));
    }
    all[std::string(key.str())] = *match;
  }
  return all;
}

std::vector<std::pair<double, double>> TomlRow::pairs(std::string_view field) const
{
  const toml::array* array = table_->get_as<toml::array>(field);
  if (!array) {
    refuse(field, "a list of pairs [[0, 0], ...] is required here");
  }
  std::vector<std::pair<double, double>> all;
  for (const toml::node& node : *array) {
    const toml::array* pair = node.as_array();
    const auto x = pair && pair->size() == 2 ? pair->get(0)->value<double>() : std::nullopt;
    const auto y = x ? pair->get(1)->value<double>() : std::nullopt;
    if (!x || !y || !std::isfinite(*x) || !std::isfinite(*y)) {
      refuse(field, "every entry of this list must be a pair of numbers");
    }
    all.emplace_back(*x, *y);
  }
  return all;
}

AnswerTable TomlRow::answers(std::string_view field) const
{
  AnswerTable all;
  const auto table = inner(field);
  if (table) {
    for (const auto& [key, node] : *table->table_) {
      all[std::string(key.str())] = table->numbers(key.str());
    }
  }
  return all;
}

std::optional<TomlRow> TomlRow::inner(std::string_view field) const
{
  if (!has(field)) {
    return std::nullopt;
  }
  const toml::table* table = table_->get_as<toml::table>(field);
  if (!table) {
    refuse(field, "a table { name = value, ... } is required here");
  }
  return TomlRow(*table, file_);
}

Origin TomlRow::origin() const
{
  Origin origin;
  origin.source = text_or("source", "");
  origin.where = text_or("where", "");
  constexpr std::array values = {Provenance::looked_up, Provenance::common_practice, Provenance::no_source_yet};
  origin.provenance = has("provenance") ? one_of("provenance", values) : Provenance::no_source_yet;
  origin.file = file_;
  origin.line = line();
  return origin;
}

void TomlRow::allow_only(std::initializer_list<std::string_view> fields) const
{
  for (const auto& [key, node] : *table_) {
    if (std::find(fields.begin(), fields.end(), key.str()) == fields.end()) {
      refuse(key.str(), "no such field in this kind of row; see tables/README.md");
    }
  }
}

}  // namespace bilancetta
