#pragma once

#include <map>
#include <string>

#include "bilancetta/tables.hpp"

namespace bilancetta
{

/// Refuses a row by file, line and key. @throws Error (bad_table) always.
[[noreturn]] void refuse_row(const Origin& origin, const std::string& key, const std::string& message);

/// Refuses a row whose `found` names no place of the tables.
void check_found(const Tables& tables, const Origin& origin, const std::string& key,
                 const std::map<std::string, Commonness>& found);

/// Rules for materials: composition, pores, words, the density against mixing and against the numbers printed,
/// and no piece twice. @throws Error (bad_table).
void check_materials(const Tables& tables);

/// The numbers in a text such as "10.1; 12.9 to 13.3; 8.17 (Cu 95 Al 5)"; what stands in brackets is a remark.
std::vector<double> printed_numbers(const std::string& text);

}  // namespace bilancetta
