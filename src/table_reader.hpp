#pragma once

#include <string>
#include <vector>

#include "bilancetta/tables.hpp"

namespace bilancetta
{

/// One table file: its name for messages, and its text.
struct TableText {
  std::string name;
  std::string text;
};

/// The built-in files (generated from tables/).
std::vector<TableText> embedded_tables();

/// Reads and checks tables. Rows of `users` replace those of `built_in` with the same key; the same
/// key twice within one of them is refused. @throws Error (bad_table) with file, line, field, reason.
Tables read_tables(const std::vector<TableText>& built_in, const std::vector<TableText>& users = {});

/// Rules that hold across rows (sums, ranges, unknown keys, unused sources); see tables/README.md.
/// With users' rows a built-in source may be left unused. @throws Error (bad_table).
void check_tables(const Tables& tables, bool users_rows);
/// That the source of a row, if it names one, is in the tables. @throws Error (bad_table).
void check_source(const Tables& tables, const Origin& origin, const std::string& key);

}  // namespace bilancetta
