#include <fmt/core.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "pages.hpp"
#include "picture.hpp"

using namespace bilancetta;

namespace validation
{

namespace
{

std::string file_of(const Departure& departure)
{
  std::string name = departure.key;
  std::transform(name.begin(), name.end(), name.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return name + ".svg";
}

std::vector<const AlloyRow*> rows_of(const Findings& findings, const std::string& system)
{
  std::vector<const AlloyRow*> rows;
  for (const AlloyRow& row : findings.rows) {
    if (row.melted() && row.system == system) {
      rows.push_back(&row);
    }
  }
  return rows;
}

std::string solute_names(const Tables& tables, const Departure& departure)
{
  std::vector<std::string> names;
  for (const int solute : departure.solutes) {
    names.push_back(tables.constituents[solute].name);
  }
  return fmt::format("{}", fmt::join(names, " + "));
}

// Ends of the y axis: everything drawn, with some air.
void fit_y(Picture& p)
{
  p.y_low = p.y_high = 0.0;
  for (const auto& [x, y] : p.points) {
    p.y_low = std::min(p.y_low, y);
    p.y_high = std::max(p.y_high, y);
  }
  for (const auto& [x, y] : p.line) {
    p.y_low = std::min(p.y_low, y - p.band);
    p.y_high = std::max(p.y_high, y + p.band);
  }
  const double air = 0.08 * (p.y_high - p.y_low);
  p.y_low -= air;
  p.y_high += air;
}

Picture picture_of(const Findings& findings, const Departure& departure)
{
  Picture p;
  p.title = fmt::format("{}: {}", departure.key, departure.name);
  p.x_label = solute_names(*findings.tables, departure) + ", % by mass";
  p.y_label = "measured minus ideal mixing, %";
  p.x_high = 105.0 * departure.knots.back().first;
  p.band = 200.0 * departure.scatter;
  for (const auto& [x, y] : departure.knots) {
    p.line.emplace_back(100.0 * x, 100.0 * y);
  }
  for (const AlloyRow* row : rows_of(findings, departure.key)) {
    p.points.emplace_back(100.0 * solutes_of(departure, row->composition), 100.0 * row->departure());
  }
  fit_y(p);
  return p;
}

Picture processes_picture(const Findings& findings)
{
  Picture p;
  p.title = "Relative density of sintered materials";
  p.x_label = "process; line and band: typical, and 95 % range of pores";
  p.y_label = "measured / pore-free, %";
  p.x_low = 0.5;
  p.x_high = 0.5 + static_cast<double>(findings.tables->processes.size());
  double x = 1.0;
  for (const Process& process : findings.tables->processes) {
    p.x_names.emplace_back(x, process.key == "pressed-sintered-repressed" ? "repressed"
                              : process.key == "liquid-phase-sintered"    ? "liquid phase"
                                                                          : process.key);
    p.bars.push_back(
        {x - 0.4, x + 0.4, 100.0 * (1.0 - process.pores.high), 100.0 * (1.0 - process.pores.typical), 100.0});
    std::vector<double> seen;
    for (const AlloyRow& row : findings.rows) {
      if (row.process == process.key && row.fitted) {
        // Side by side, in the order of the file.
        p.points.emplace_back(x - 0.3 + 0.6 * static_cast<double>(seen.size()) / (process.rows - 1.0),
                              100.0 + 100.0 * row.departure());
        seen.push_back(row.departure());
      }
    }
    x += 1.0;
  }
  p.y_low = 94.0;
  p.y_high = 101.0;
  return p;
}

Picture residual_picture(const Findings& findings)
{
  Picture p;
  p.title = "Modelled minus measured, the row left out";
  p.x_label = "measured density, g/cm3";
  p.y_label = "modelled minus measured, %";
  p.x_low = 2.0;
  p.x_high = 22.0;
  for (const LeftOut& one : findings.left.at(Left::row)) {
    p.points.emplace_back(one.row->density, 100.0 * one.off());
  }
  p.line = {{p.x_low, 0.0}, {p.x_high, 0.0}};
  p.band = 1.5;
  fit_y(p);
  return p;
}

std::string system_line(const Findings& findings, const Departure& departure)
{
  std::vector<double> off;
  for (const AlloyRow* row : rows_of(findings, departure.key)) {
    off.push_back(std::abs(row->departure() - departure_at(departure, solutes_of(departure, row->composition))));
  }
  std::sort(off.begin(), off.end());
  std::string knots;
  for (const auto& [x, y] : departure.knots) {
    knots += fmt::format("{}{:+.2f} at {:g}", knots.empty() ? "" : ", ", 100 * y, 100 * x);
  }
  const std::string residuals =
      off.empty() ? "no rows" : fmt::format("{:.2f} / {:.2f}", 100 * off[off.size() / 2], 100 * off.back());
  return fmt::format("| {} | {} | {} | {} | {:.2f} | {} | {} |\n", departure.key, departure.name, departure.rows, knots,
                     100 * departure.scatter, residuals,
                     off.empty() ? "" : fmt::format("[picture](pictures/{})", file_of(departure)));
}

}  // namespace

std::string systems_section(const Findings& findings)
{
  std::string text =
      "| system | alloys | rows | departure in % at % by mass of solutes | scatter % | residual %: median / largest | "
      "|\n"
      "|---|---|---|---|---|---|---|\n";
  for (const Departure& departure : findings.tables->departures) {
    text += system_line(findings, departure);
  }
  text += "\n| process | rows | typical pores % | 95 % up to % |\n|---|---|---|---|\n";
  for (const Process& process : findings.tables->processes) {
    text += fmt::format("| {}: {} | {} | {:.1f} | {:.1f} |\n", process.key, process.name, process.rows,
                        100 * process.pores.typical, 100 * process.pores.high);
  }
  text += "\n![Residuals](pictures/residuals.svg)\n![Processes](pictures/processes.svg)\n";
  for (const Departure& departure : findings.tables->departures) {
    text += departure.rows > 0 ? fmt::format("![{}](pictures/{})\n", departure.key, file_of(departure)) : "";
  }
  return text;
}

std::map<std::string, std::string> pictures(const Findings& findings)
{
  std::map<std::string, std::string> all;
  for (const Departure& departure : findings.tables->departures) {
    if (departure.rows > 0) {
      all[file_of(departure)] = svg_of(picture_of(findings, departure));
    }
  }
  all["processes.svg"] = svg_of(processes_picture(findings));
  all["residuals.svg"] = svg_of(residual_picture(findings));
  return all;
}

}  // namespace validation
