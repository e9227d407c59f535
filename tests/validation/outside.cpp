#include "outside.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

using namespace bilancetta;

namespace validation
{

namespace
{

double typical_density(const Tables& tables, const std::string& key)
{
  const int index = find_material(tables, key);
  if (index < 0) {
    throw std::runtime_error("\"" + key + "\" is not a material of the tables");
  }
  return typical_density_g_cm3(tables.materials[index], tables.constituents);
}

// Lower and upper end as percent of ours, both 0 inside the window.
double off_window(double ours, double low, double high)
{
  return ours < low ? 100.0 * (low / ours - 1.0) : ours > high ? 100.0 * (high / ours - 1.0) : 0.0;
}

void add_elements(const Tables& tables, const std::string& path, std::vector<Comparison>& all)
{
  constexpr double tolerance = 1.0;
  for (const Line& line : read_csv(path)) {
    const int index = find_constituent(tables, line.at("symbol"));
    if (index < 0) {
      throw std::runtime_error(path + ": " + line.at("symbol") + " is not a constituent of the tables");
    }
    for (const char* collection : {"periodictable", "gnu_units", "xraydb", "asm61"}) {
      if (line.at(collection).empty()) {
        continue;
      }
      Comparison c{"element", line.at("symbol"), collection, line.at(collection), fmt::format("{:.0f} %", tolerance),
                   ""};
      c.ours = tables.constituents[index].density_g_cm3;
      c.off_percent = 100.0 * (number_of(line.at(collection)) / c.ours - 1.0);
      const bool named = line.at("known_bad").find(collection) != std::string::npos;
      c.agreement = std::abs(c.off_percent) <= tolerance ? Agreement::agrees
                    : named                              ? Agreement::known
                                                         : Agreement::differs;
      c.reason = c.agreement == Agreement::known ? line.at("reason") : "";
      all.push_back(c);
    }
  }
}

// A row of ours where there is one, else mixing with the departure of the system; the model's own scatter then adds
// to the tolerance, which is meant for a row of the same alloy.
void add_alloys(const Tables& tables, const std::string& path, std::vector<Comparison>& all)
{
  constexpr double scatter_of_none = 0.5;  // percent, of a system without measured rows (judgement)
  for (const Line& line : read_csv(path)) {
    const std::string& key = line.at("material_key");
    const std::vector<Component> composition = composition_of(tables, line.at("composition"));
    const Departure* system = system_of(tables.departures, composition);
    double tolerance = number_of(line.at("tolerance_percent"));
    std::string basis = "row " + key;
    if (key.empty()) {
      tolerance += system ? 100.0 * system->scatter : scatter_of_none;
      basis = system ? "by mixing and the departure of " + system->key : "by mixing";
    }
    Comparison c{
        "alloy", line.at("object"), line.at("source"), line.at("density_g_cm3"), fmt::format("{:.2g} %", tolerance),
        basis};
    c.ours = key.empty() ? mixture_density(tables, composition) * (1.0 + departure_of(tables.departures, composition))
                         : typical_density(tables, key);
    c.off_percent = 100.0 * (number_of(line.at("density_g_cm3")) / c.ours - 1.0);
    c.agreement = std::abs(c.off_percent) <= tolerance ? Agreement::agrees : Agreement::differs;
    all.push_back(c);
  }
}

void add_windows(const Tables& tables, const std::string& path, const char* kind, const char* name,
                 double slack_percent, std::vector<Comparison>& all)
{
  for (const Line& line : read_csv(path)) {
    if (line.at("material_key").empty()) {
      continue;
    }
    const double low = number_of(line.at("density_low"));
    const double high = number_of(line.at("density_high"));
    const auto source = line.find("source");
    Comparison c{kind,
                 line.at(name),
                 source == line.end() ? "ASTM B777-15, table 1" : source->second,
                 low < high ? line.at("density_low") + " to " + line.at("density_high") : line.at("density_low"),
                 slack_percent > 0.0 ? fmt::format("{:.1f} %", slack_percent) : "within",
                 "row " + line.at("material_key")};
    c.what = kind == std::string("heavy alloy") ? "class " + c.what : c.what;
    c.ours = typical_density(tables, line.at("material_key"));
    c.off_percent = off_window(c.ours, low, high);
    c.agreement = std::abs(c.off_percent) <= slack_percent ? Agreement::agrees : Agreement::differs;
    all.push_back(c);
  }
}

}  // namespace

std::vector<Comparison> outside_comparisons(const Tables& tables, const std::string& published)
{
  std::vector<Comparison> all;
  add_elements(tables, published + "/elements.csv", all);
  add_alloys(tables, published + "/alloys.csv", all);
  add_windows(tables, published + "/heavy_alloy_b777.csv", "heavy alloy", "class", 0.0, all);
  add_windows(tables, published + "/karat_ranges.csv", "karat gold", "grade", 1.5, all);
  return all;
}

}  // namespace validation
