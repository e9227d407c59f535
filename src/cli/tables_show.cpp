#include <fmt/core.h>

#include <algorithm>

#include "commands.hpp"

using namespace bilancetta;

namespace
{

std::string range_text(const Range& r, double factor, const char* unit)
{
  return fmt::format("{:.4g} ({:.4g} to {:.4g}){}", factor * r.typical, factor * r.low, factor * r.high, unit);
}

// What the typical density rests on.
std::string basis_of(const Tables& tables, const Material& m)
{
  if (m.measured) {
    return fmt::format("measured {}; {:+.1f} % from ideal mixing", range_text(m.density, 1, ""),
                       100 * m.departure.typical);
  }
  if (m.porous) {
    return fmt::format("pore-free {:.2f}, pores {}{}", ideal_density_g_cm3(m, tables.constituents),
                       range_text(m.pores, 100, " % by volume"), m.process.empty() ? "" : ", " + m.process);
  }
  const auto system = std::find_if(tables.departures.begin(), tables.departures.end(),
                                   [&](const Departure& d) { return d.key == m.system; });
  return system == tables.departures.end()
             ? "by mixing; no measurement found"
             : fmt::format("by mixing and the {:+.1f} % of the system {}, {} measured rows", 100 * m.departure.typical,
                           m.system, system->rows);
}

}  // namespace

std::string material_text(const Tables& tables, const Material& m)
{
  std::string out = fmt::format("{}\n  key          {}\n  family       {}\n", m.name, m.key, m.group);
  out += (m.standard.empty() ? "" : fmt::format("  standard     {}\n", m.standard));
  for (const Component& c : m.components) {
    out +=
        fmt::format("  {:<12} {} % by mass\n", tables.constituents[c.constituent].key, range_text(c.fraction, 100, ""));
  }
  out += fmt::format("  density      {:.2f} g/cm3 ({})\n", typical_density_g_cm3(m, tables.constituents),
                     basis_of(tables, m));
  out += (m.printed.empty() ? "" : fmt::format("  as printed   {}\n", m.printed));
  out += fmt::format("  scatter      {:.1f} %\n", 100 * m.scatter);
  for (const auto& [property, word] : m.words) {
    out += fmt::format("  {:<12} {}\n", property, word);
  }
  out += (m.conductivity_iacs.typical > 0
              ? fmt::format("  conductivity {}\n", range_text(m.conductivity_iacs, 1, " %IACS"))
              : "  conductivity not known\n");
  for (const auto& [place, commonness] : m.found) {
    out += fmt::format("  found        {}: {}\n", place, name_of(commonness));
  }
  for (const std::string& caution : m.cautions) {
    out += fmt::format("  caution      {}\n", caution);
  }
  const auto source = std::find_if(tables.sources.begin(), tables.sources.end(),
                                   [&](const Source& s) { return s.key == m.origin.source; });
  out +=
      fmt::format("  source       {}{}{}\n  provenance   {}\n", source == tables.sources.end() ? "none" : source->title,
                  m.origin.where.empty() ? "" : ", ", m.origin.where, name_of(m.origin.provenance));
  out += (m.note.empty() ? "" : fmt::format("  note         {}\n", m.note));
  return out;
}
