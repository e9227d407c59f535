#include "support.hpp"

#include <fmt/format.h>

#include <fstream>
#include <sstream>

#include "bilancetta/density.hpp"

namespace testing
{

namespace
{

std::vector<std::string> cells_of(const std::string& line)
{
  std::vector<std::string> cells;
  std::size_t from = 0;
  for (;;) {
    const std::size_t comma = line.find(',', from);
    cells.push_back(line.substr(from, comma - from));
    if (comma == std::string::npos) {
      return cells;
    }
    from = comma + 1;
  }
}

}  // namespace

const std::string& Row::text(const std::string& column) const
{
  const auto match = cells_.find(column);
  if (match == cells_.end()) {
    FAIL("the catalogue has no column " << column);
  }
  return match->second;
}

double Row::number(const std::string& column) const
{
  INFO("column " << column << " of " << all());
  REQUIRE_FALSE(text(column).empty());
  return std::stod(text(column));
}

double Row::number_or(const std::string& column, double otherwise) const
{
  return text(column).empty() ? otherwise : std::stod(text(column));
}

std::string Row::all() const
{
  std::string line;
  for (const auto& [column, cell] : cells_) {
    line += column;
    line += "=";
    line += cell;
    line += " ";
  }
  return line;
}

std::vector<Row> published(const std::string& file)
{
  std::ifstream in(std::string(BILANCETTA_PUBLISHED) + "/" + file);
  INFO("catalogue " << file);
  REQUIRE(in.good());
  std::vector<std::string> header;
  std::vector<Row> rows;
  for (std::string line; std::getline(in, line);) {
    if (line.empty() || line.front() == '#') {
      continue;
    }
    const std::vector<std::string> cells = cells_of(line);
    if (header.empty()) {
      header = cells;
      continue;
    }
    INFO("line " << line);
    REQUIRE(cells.size() == header.size());
    std::map<std::string, std::string> row;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      row[header[i]] = cells[i];
    }
    rows.emplace_back(row);
  }
  REQUIRE_FALSE(rows.empty());
  return rows;
}

bool contains(const std::string& text, const std::string& part)
{
  return text.find(part) != std::string::npos;
}

std::string joined(const std::vector<std::string>& lines)
{
  return fmt::format("{}", fmt::join(lines, "\n"));
}

IdealReadings ideal_readings(double mass_g, double density_g_cm3, double liquid_g_cm3, double air_g_cm3)
{
  const double k = 1.0 - 0.0012 / 8.0;
  const double volume = mass_g / density_g_cm3;
  return {(mass_g - air_g_cm3 * volume) / k, (liquid_g_cm3 - air_g_cm3) * volume / k};
}

bilancetta::Weighing rise_weighing(double dry_g, double rise_g, const bilancetta::Scale& scale)
{
  bilancetta::Weighing w;
  w.readings.dry_g = {dry_g};
  w.readings.rise_g = {rise_g};
  w.scale = scale;
  return w;
}

bilancetta::Weighing submerged_weighing(double dry_g, double submerged_g, const bilancetta::Scale& scale)
{
  bilancetta::Weighing w;
  w.readings.dry_g = {dry_g};
  w.readings.submerged_g = {submerged_g};
  w.scale = scale;
  return w;
}

double budget_line(const bilancetta::Weighing& weighing, const std::string& cause)
{
  for (const bilancetta::BudgetLine& line : budget_of(weighing)) {
    if (line.cause == cause) {
      return line.standard_uncertainty;
    }
  }
  FAIL("the budget has no line " << cause);
  return 0.0;
}

bilancetta::Scale scale_named(const std::string& name)
{
  using bilancetta::ScaleClass;
  for (const ScaleClass one : {ScaleClass::kitchen, ScaleClass::pocket, ScaleClass::jeweller, ScaleClass::laboratory}) {
    if (bilancetta::name_of(one) == name) {
      return bilancetta::scale_of(one);
    }
  }
  FAIL("no scale class " << name);
  return {};
}

}  // namespace testing
