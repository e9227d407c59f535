#pragma once

// Tables of measured densities as they stand in CSV files of the tests.

#include <map>
#include <string>
#include <vector>

#include "bilancetta/tables.hpp"

namespace validation
{

/// One line of a CSV by column name; lines that begin with # are notes, no cell holds a comma.
using Line = std::map<std::string, std::string>;
std::vector<Line> read_csv(const std::string& path);
/// A cell as a number; stops the program with the file's fault if it is none.
double number_of(const std::string& cell);
/// "Cu=0.7;Zn=0.3" as components of the tables; typical fractions only.
std::vector<bilancetta::Component> composition_of(const bilancetta::Tables& tables, const std::string& text);
/// Density without pores or departure, g/cm3.
double mixture_density(const bilancetta::Tables& tables, const std::vector<bilancetta::Component>& composition);
/// Half a unit of the last printed digit.
double half_unit(const std::string& printed);

/// An alloy or composite of stated composition and measured density.
struct AlloyRow {
  std::string alloy, system, process, kind, source, note, composition_text;
  std::vector<bilancetta::Component> composition;
  double density = 0.0, half_unit = 0.0, ideal = 0.0;
  bool fitted = true;
  [[nodiscard]] bool melted() const { return process == "melted"; }
  [[nodiscard]] double departure() const { return density / ideal - 1.0; }
};
std::vector<AlloyRow> read_alloys(const bilancetta::Tables& tables, const std::string& path);

}  // namespace validation
