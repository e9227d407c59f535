#include "batch_columns.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <unordered_map>
#include <unordered_set>
#include <utility>

#include "bilancetta/error.hpp"
#include "bilancetta/spelling.hpp"
#include "csv.hpp"

namespace bilancetta
{

namespace
{

bool is_test(Field field)
{
  return field >= Field::magnet && field <= Field::conductivity_iacs;
}

bool holds(const std::vector<std::string>& names, const std::string& name)
{
  return std::find(names.begin(), names.end(), name) != names.end();
}

const std::vector<std::string>& known_names()
{
  static const std::vector<std::string> names = [] {
    std::vector<std::string> all;
    all.reserve(field_count);
    for (int f = 0; f < field_count; ++f) {
      all.emplace_back(name_of(static_cast<Field>(f)));
    }
    return all;
  }();
  return names;
}

// Names of the output's columns, each once: the name itself, or in_NAME, in_NAME_2, in_NAME_3 ...
class FreeNames
{
 public:
  explicit FreeNames(const std::vector<std::string>& taken) : taken_(taken.begin(), taken.end()) {}
  std::string free_name(const std::string& name)
  {
    const std::string prefixed = "in_" + name;
    std::string free = name;
    for (int& tried = tried_[name]; !taken_.insert(free).second; ++tried) {
      free = tried == 0 ? prefixed : prefixed + (prefixed.ends_with('_') ? "" : "_") + std::to_string(tried + 1);
    }
    return free;
  }

 private:
  std::unordered_set<std::string> taken_;
  std::unordered_map<std::string, int> tried_;  // by name
};

// A unit at the end of a name where another is wanted: renamed as it stands, the column would give wrong numbers.
struct OtherUnit {
  std::string_view unit, wanted, words, advice;
};
constexpr std::string_view in_grams = "weights are wanted in grams";
constexpr std::string_view in_mm = "lengths are wanted in millimetres";
constexpr OtherUnit other_units[] = {
    {"mg", "g", in_grams, " (divide by 1000)"},
    {"kg", "g", in_grams, " (multiply by 1000)"},
    {"oz", "g", in_grams, ""},
    {"ozt", "g", in_grams, ""},
    {"ct", "g", in_grams, ""},
    {"dwt", "g", in_grams, ""},
    {"gr", "g", in_grams, " (rename it only if gr means grams, not grains)"},
    {"cm", "mm", in_mm, " (multiply by 10)"},
    {"mm2", "cm2", "surfaces are wanted in square centimetres", " (divide by 100)"},
    {"f", "c", "temperatures are wanted in degrees Celsius", " (subtract 32, then divide by 1.8)"}};

// What to do with a column of which only the unit is another than that of a known one; empty if it is none.
std::string words_of_other_unit(std::string name)
{
  std::erase_if(name, [](char c) { return std::string_view("()[]").find(c) != std::string_view::npos; });
  name = folded(name);
  const std::size_t gap = std::min(name.find_last_of('-'), name.size());
  const std::string unit = name.substr(std::min(gap + 1, name.size()));
  const auto* const other =
      std::find_if(std::begin(other_units), std::end(other_units), [&](const OtherUnit& o) { return o.unit == unit; });
  if (other == std::end(other_units)) {
    return "";
  }
  const std::string meant = close_name(fmt::format("{}-{}", name.substr(0, gap), other->wanted), known_names());
  return meant.ends_with(fmt::format("_{}", other->wanted))
             ? fmt::format("{}: {}{}", other->words, meant, other->advice)
             : "";
}

// The column of an option's other name.
std::string column_of_option(const std::string& name)
{
  constexpr std::pair<std::string_view, Field> others[] = {{"stamped", Field::claim},
                                                           {"cup-gain", Field::rise_g},
                                                           {"cup-gain-g", Field::rise_g},
                                                           {"bubbles", Field::wetting}};
  const auto* const other =
      std::find_if(std::begin(others), std::end(others), [&](const auto& o) { return same_name(o.first, name); });
  return other == std::end(others) ? "" : std::string(name_of(other->second));
}

void remark_on(const std::string& name, const std::vector<std::string>& taken, std::vector<std::string>& remarks)
{
  if (holds(taken, name) || name == "note") {
    return;
  }
  if (const std::string words = words_of_other_unit(name); !words.empty()) {
    remarks.push_back(fmt::format("column \"{}\" is not known and is handed through; {}", name, words));
  } else if (const std::string option = column_of_option(name),
             meant = option.empty() ? close_name(name, known_names()) : option;
             !meant.empty()) {
    remarks.push_back(fmt::format("column \"{}\" is not known and is handed through; did you mean {}?", name, meant));
  }
}

std::string beginning_of(const std::vector<std::string_view>& header)
{
  constexpr std::size_t most = 60;
  std::string text;
  for (std::size_t i = 0; i < header.size() && text.size() <= most; ++i) {
    text += (i == 0 ? "" : ", ") + std::string(trimmed(header[i]));
  }
  return shortened(text, most);
}

// With a separator other than the comma, a comma is the decimal sign.
void set_cell(std::string& text, std::string_view cell, char separator, Field field)
{
  text.assign(cell);
  if (separator != ',' && field != Field::piece && field != Field::lot) {
    std::replace(text.begin(), text.end(), ',', '.');
  }
}

}  // namespace

BatchColumns columns_of(const std::vector<std::string_view>& header, const std::vector<std::string>& taken,
                        bool keep_input, const Where& where)
{
  BatchColumns columns;
  columns.count = header.size();
  std::array<bool, field_count> seen{};
  FreeNames names(taken);
  FreeNames own_names({});
  for (std::size_t i = 0; i < header.size(); ++i) {
    const std::string name(trimmed(header[i]));
    const auto field = field_called(name);
    if (field) {
      if (std::exchange(seen[static_cast<std::size_t>(*field)], true)) {
        throw Error(ErrorCode::bad_csv, fmt::format("column \"{}\" stands twice; keep one", name), where);
      }
      columns.read.push_back({i, *field});
      if (*field == Field::layer_mm) {
        columns.remarks.push_back(
            fmt::format("column \"{}\" is checked, but only weigh and --json make use of a layer's thickness", name));
      }
    }
    if (!field) {
      remark_on(name, taken, columns.remarks);
    }
    if (!field || keep_input) {
      columns.carried.push_back(i);
      columns.carried_names.push_back(names.free_name(name));
      columns.own_names.push_back(own_names.free_name(name));
    }
  }
  if (!seen[static_cast<std::size_t>(Field::dry_g)]) {
    std::string why =
        "no column dry_g; the first line must name the columns, such as piece, dry_g, rise_g (see docs/cli.md)";
    if (columns.read.empty()) {
      why += fmt::format("; this one is \"{}\"", beginning_of(header));
    }
    for (const std::string& remark : columns.remarks) {
      why += "; " + remark;
    }
    throw Error(ErrorCode::bad_csv, why, where);
  }
  return columns;
}

FinestDecimals finest_reading(const std::vector<std::string_view>& cells, const BatchColumns& columns, char separator,
                              FinestDecimals finest, bool liquid_scale)
{
  const bool other_scale =
      liquid_scale || std::any_of(columns.read.begin(), columns.read.end(), [&](const auto& read) {
        return read.field == Field::liquid_scale && read.column < cells.size() && !trimmed(cells[read.column]).empty();
      });
  const FinestDecimals before = finest;
  bool in_liquid = false;
  std::string text;
  for (const auto& [column, field] : columns.read) {
    if (!is_reading(field, other_scale) || column >= cells.size()) {
      continue;
    }
    const std::string_view cell = trimmed(cells[column]);
    const std::size_t point = cell.find_last_of(".,");
    if (field == Field::dry_g && cell.starts_with('-')) {
      return before;  // the row is refused
    }
    const bool dry = is_reading(field, true);
    in_liquid = in_liquid || (!dry && !cell.empty());
    int& so_far = dry ? finest.dry : finest.in_liquid;
    const bool plain = cell.find_first_of(" \teE\xC2\xE2") == std::string_view::npos;
    if (plain && (point == std::string_view::npos || cell.size() - point - 1 <= static_cast<std::size_t>(so_far))) {
      continue;
    }
    set_cell(text, cell, separator, field);
    so_far = std::max(so_far, decimals_of(text));
  }
  finest.rows_in_liquid += in_liquid ? 1 : 0;
  return finest;
}

RowText::RowText(const BatchColumns& columns, const PieceText& defaults, char separator)
    : columns_(&columns), defaults_(&defaults), separator_(separator), text_(defaults), carried_(columns.carried.size())
{
  for (int f = 0; f < field_count; ++f) {
    if (is_test(static_cast<Field>(f))) {
      text_[static_cast<Field>(f)].clear();
    }
  }
}

void RowText::read(const std::vector<std::string_view>& cells)
{
  comma_ = point_ = false;
  for (const auto& [column, field] : columns_->read) {
    const std::string_view cell = column < cells.size() ? trimmed(cells[column]) : std::string_view{};
    if (!cell.empty()) {
      const bool number = is_reading(field, false);
      comma_ = comma_ || (number && separator_ != ',' && cell.find(',') != std::string_view::npos);
      point_ = point_ || (number && cell.find('.') != std::string_view::npos);
      set_cell(text_[field], cell, separator_, field);
    } else if (is_test(field)) {
      text_[field].clear();
    } else {
      text_[field] = (*defaults_)[field];
    }
  }
  for (std::size_t i = 0; i < carried_.size(); ++i) {
    const std::size_t column = columns_->carried[i];
    carried_[i].assign(column < cells.size() ? cells[column] : std::string_view{});
  }
}

}  // namespace bilancetta
