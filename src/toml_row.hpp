#pragma once

#include <array>
#include <cstddef>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <toml++/toml.h>

#include "bilancetta/tables.hpp"

namespace bilancetta
{

/// One row of a table file, read field by field; every complaint names file, line and field.
class TomlRow
{
 public:
  TomlRow(const toml::table& table, std::string file) : table_(&table), file_(std::move(file)) {}

  [[nodiscard]] bool has(std::string_view field) const { return table_->contains(field); }
  [[nodiscard]] bool is_text(std::string_view field) const { return has(field) && table_->get(field)->is_string(); }
  [[nodiscard]] std::string text(std::string_view field) const;  ///< required
  [[nodiscard]] std::string text_or(std::string_view field, std::string_view otherwise) const;
  [[nodiscard]] double number(std::string_view field) const;  ///< required
  [[nodiscard]] double number_or(std::string_view field, double otherwise) const;
  /// Required, one of these words.
  [[nodiscard]] std::string word(std::string_view field, std::initializer_list<std::string_view> allowed) const;
  /// Required, the name of one of these values of an enumeration.
  template <typename Enum, std::size_t count>
  [[nodiscard]] Enum one_of(std::string_view field, const std::array<Enum, count>& values) const
  {
    const std::string value = text(field);
    std::string list;
    for (const Enum one : values) {
      if (name_of(one) == value) {
        return one;
      }
      list += (list.empty() ? "" : ", ") + std::string(name_of(one));
    }
    refuse(field, "\"" + value + "\" is not one of " + list);
  }
  /// Required, a whole number in this range.
  [[nodiscard]] int whole(std::string_view field, int low, int high) const;
  [[nodiscard]] double chance(std::string_view field) const;  ///< required, 0 to 1
  [[nodiscard]] bool flag_or(std::string_view field, bool otherwise) const;
  [[nodiscard]] Range range(std::string_view field) const;                     ///< required, low <= typical <= high
  [[nodiscard]] std::vector<std::string> texts(std::string_view field) const;  ///< empty if missing
  [[nodiscard]] std::map<std::string, double> numbers(std::string_view field) const;  ///< empty if missing
  /// Chances of answers: each above 0, together 1.
  [[nodiscard]] std::map<std::string, double> chances(std::string_view field) const;
  [[nodiscard]] std::map<std::string, Range> ranges(std::string_view field) const;
  [[nodiscard]] std::map<std::string, Commonness> found(std::string_view field) const;
  [[nodiscard]] std::vector<std::pair<double, double>> pairs(std::string_view field) const;  ///< [[x, y], ...]
  [[nodiscard]] AnswerTable answers(std::string_view field) const;                           ///< empty if missing
  [[nodiscard]] std::optional<TomlRow> inner(std::string_view field) const;
  [[nodiscard]] Origin origin() const;
  [[nodiscard]] int line() const { return static_cast<int>(table_->source().begin.line); }
  /// Refuses fields that are not in this list (a misspelt field would be silently lost).
  void allow_only(std::initializer_list<std::string_view> fields) const;
  [[noreturn]] void refuse(std::string_view field, const std::string& message) const;

 private:
  const toml::table* table_;
  std::string file_;
};

}  // namespace bilancetta
