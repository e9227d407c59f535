#include "alloy_rows.hpp"

#include <cmath>
#include <fstream>
#include <sstream>
#include <stdexcept>

using namespace bilancetta;

namespace validation
{

namespace
{

std::vector<std::string> split(const std::string& text, char separator)
{
  std::vector<std::string> cells;
  std::size_t from = 0;
  for (;;) {
    const std::size_t at = text.find(separator, from);
    cells.push_back(text.substr(from, at - from));
    if (at == std::string::npos) {
      return cells;
    }
    from = at + 1;
  }
}

}  // namespace

std::vector<Line> read_csv(const std::string& path)
{
  std::ifstream in(path);
  if (!in) {
    throw std::runtime_error(path + ": cannot be read");
  }
  std::vector<std::string> header;
  std::vector<Line> rows;
  for (std::string line; std::getline(in, line);) {
    if (line.empty() || line.front() == '#') {
      continue;
    }
    const std::vector<std::string> cells = split(line, ',');
    if (header.empty()) {
      header = cells;
      continue;
    }
    if (cells.size() != header.size()) {
      std::string message = path;
      message += ": not as many cells as columns: ";
      message += line;
      throw std::runtime_error(message);
    }
    Line row;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      row[header[i]] = cells[i];
    }
    rows.push_back(row);
  }
  return rows;
}

double number_of(const std::string& cell)
{
  try {
    return std::stod(cell);
  } catch (const std::exception&) {
    throw std::runtime_error("\"" + cell + "\" is not a number");
  }
}

std::vector<Component> composition_of(const Tables& tables, const std::string& text)
{
  std::vector<Component> composition;
  for (const std::string& part : split(text, ';')) {
    const std::vector<std::string> pair = split(part, '=');
    const int index = find_constituent(tables, pair.front());
    if (pair.size() != 2 || index < 0) {
      throw std::runtime_error("\"" + part + "\" is not a constituent with its mass fraction");
    }
    const double fraction = number_of(pair[1]);
    composition.push_back({index, {fraction, fraction, fraction}});
  }
  return composition;
}

double mixture_density(const Tables& tables, const std::vector<Component>& composition)
{
  Material mixture;
  mixture.components = composition;
  return ideal_density_g_cm3(mixture, tables.constituents);
}

double half_unit(const std::string& printed)
{
  const std::size_t point = printed.find('.');
  const int decimals = point == std::string::npos ? 0 : static_cast<int>(printed.size() - point - 1);
  return 0.5 * std::pow(10.0, -decimals);
}

std::vector<AlloyRow> read_alloys(const Tables& tables, const std::string& path)
{
  std::vector<AlloyRow> rows;
  for (const Line& line : read_csv(path)) {
    AlloyRow row;
    row.alloy = line.at("alloy");
    row.system = line.at("system");
    row.process = line.at("process");
    row.kind = line.at("kind");
    row.source = line.at("source");
    row.note = line.at("note");
    row.composition_text = line.at("composition");
    row.composition = composition_of(tables, row.composition_text);
    row.density = number_of(line.at("density_g_cm3"));
    row.half_unit = half_unit(line.at("density_g_cm3"));
    row.ideal = mixture_density(tables, row.composition);
    row.fitted = line.at("use") == "fit";
    rows.push_back(row);
  }
  return rows;
}

}  // namespace validation
