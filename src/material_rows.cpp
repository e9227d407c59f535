#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "bilancetta/error.hpp"
#include "table_rows.hpp"

namespace bilancetta
{

namespace
{

void read_composition(const Tables& tables, const TomlRow& row, Material& m)
{
  const std::string balance = row.text("balance");
  m.balance = -1;
  double sum = 0.0;
  for (const auto& [key, fraction] : row.ranges("fractions")) {
    if (fraction.low < 0.0 || fraction.high > 1.0) {
      row.refuse("fractions", fmt::format("{}: mass fractions lie between 0 and 1 (not percent)", key));
    }
    if (fraction.typical <= 0.0) {
      continue;
    }
    if (key == balance) {
      m.balance = static_cast<int>(m.components.size());
    }
    m.components.push_back({constituent_index(tables, row, "fractions", key), fraction});
    sum += fraction.typical;
  }
  if (m.balance < 0) {
    row.refuse("balance", fmt::format("\"{}\" has no typical fraction", balance));
  }
  if (std::abs(sum - 1.0) > 1e-5) {
    row.refuse("fractions", fmt::format("typical values sum to {:.6f}, not 1", sum));
  }
}

const Process& process_called(const Tables& tables, const TomlRow& row, const std::string& key)
{
  std::string known;
  for (const Process& process : tables.processes) {
    if (process.key == key) {
      return process;
    }
    known += (known.empty() ? "" : ", ") + process.key;
  }
  row.refuse("process", fmt::format("\"{}\" is not a process of the tables; there are {}", key, known));
}

constexpr int most_rows = 1000000;
constexpr double least_scatter = 0.002;

double read_scatter(const TomlRow& row)
{
  const double scatter = row.number("scatter");
  if (!(scatter >= least_scatter && scatter <= 0.1)) {
    row.refuse("scatter", fmt::format("{} is outside 0.002 to 0.1; no table is better than 0.2 %", scatter));
  }
  return scatter;
}

// Density: measured, or pores, or by mixing; then with the departure of its system, where one is known.
void read_density(const Tables& tables, const TomlRow& row, Material& m)
{
  m.scatter = row.has("scatter") ? read_scatter(row) : least_scatter;
  m.porous = row.has("pores");
  m.measured = row.has("density");
  m.process = row.text_or("process", "");
  if (m.porous && m.measured) {
    row.refuse(
        "pores",
        "give either pores (sintered) or a measured density (melted), not both: the shortfall would count twice");
  }
  if (m.measured) {
    m.density = row.range("density");
    const MeasuredSpread spread = measured_spread(m, tables.constituents);
    m.scatter = spread.scatter;
    m.departure = spread.departure;
  } else if (m.porous) {
    m.pores = row.range("pores");
  } else if (!m.process.empty()) {
    const Process& process = process_called(tables, row, m.process);
    m.porous = true;
    m.pores = process.pores;
    m.scatter = std::max(m.scatter, process.scatter);
  } else if (const Departure* system = system_of(tables.departures, m.components)) {
    m.system = system->key;
    const double departure = departure_of(tables.departures, m.components);
    m.departure = {departure, departure, departure};
    m.scatter = std::max(m.scatter, system->scatter);
  }
}

}  // namespace

Departure read_departure(const Tables& tables, const TomlRow& row)
{
  row.allow_only({"key", "name", "constituents", "solutes", "others", "knots", "scatter", "rows", "source", "where",
                  "provenance", "note", "reason"});
  Departure d;
  d.key = row.text("key");
  d.name = row.text("name");
  for (const std::string& key : row.texts("constituents")) {
    d.constituents.push_back(constituent_index(tables, row, "constituents", key));
  }
  for (const std::string& key : row.texts("solutes")) {
    d.solutes.push_back(constituent_index(tables, row, "solutes", key));
  }
  if (d.constituents.empty() || d.solutes.empty()) {
    row.refuse("constituents", "at least one constituent and one solute are needed");
  }
  d.others = row.number_or("others", 0.0);
  d.knots = row.pairs("knots");
  if (d.knots.size() < 2 || d.knots.front() != std::pair{0.0, 0.0}) {
    row.refuse("knots", "at least two pairs are needed, the first [0, 0]: a pure metal does not depart from itself");
  }
  for (std::size_t k = 1; k < d.knots.size(); ++k) {
    if (!(d.knots[k].first > d.knots[k - 1].first && d.knots[k].first <= 1.0 && std::abs(d.knots[k].second) < 0.2)) {
      row.refuse("knots", "mass fractions must rise to at most 1, departures lie within 0.2");
    }
  }
  d.scatter = read_scatter(row);
  d.rows = row.whole("rows", 0, most_rows);
  d.origin = row.origin();
  return d;
}

Process read_process(const TomlRow& row)
{
  row.allow_only({"key", "name", "pores", "scatter", "rows", "source", "where", "provenance", "note", "reason"});
  Process p;
  p.key = row.text("key");
  p.name = row.text("name");
  p.pores = row.range("pores");
  if (!(p.pores.low >= 0.0 && p.pores.typical > 0.0 && p.pores.high < 0.9)) {
    row.refuse("pores", "pores need 0 <= low, 0 < typical and high < 0.9");
  }
  p.scatter = read_scatter(row);
  p.rows = row.whole("rows", 0, most_rows);
  p.origin = row.origin();
  return p;
}

Material read_material(const Tables& tables, const TomlRow& row)
{
  row.allow_only(
      {"key",     "name",     "group",  "standard", "balance",    "fractions", "density", "pores",  "measured",
       "scatter", "magnet",   "colour", "skin",     "chromate",   "nitric",    "file",    "paper",  "conductivity_iacs",
       "found",   "cautions", "source", "where",    "provenance", "note",      "reason",  "process"});
  Material m;
  m.key = row.text("key");
  m.name = row.text("name");
  m.group = row.text("group");
  m.standard = row.text_or("standard", "");
  read_composition(tables, row, m);
  read_density(tables, row, m);
  m.printed = row.text_or("measured", "");
  for (const char* property : {"magnet", "colour", "chromate", "nitric", "file", "paper"}) {
    m.words[property] = row.text_or(property, "varies");
  }
  m.words["skin"] = row.text_or("skin", m.words["colour"]);
  if (row.has("conductivity_iacs")) {
    m.conductivity_iacs = row.range("conductivity_iacs");
    if (!(m.conductivity_iacs.low > 0.0 && m.conductivity_iacs.high <= 120.0)) {
      row.refuse("conductivity_iacs", "conductivities above 0 and at most 120 %IACS are expected");
    }
  }
  m.found = row.found("found");
  m.cautions = row.texts("cautions");
  m.note = row.text_or("note", "");
  m.origin = row.origin();
  return m;
}

}  // namespace bilancetta
