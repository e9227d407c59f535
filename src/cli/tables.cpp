#include <fmt/core.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <set>

#include "bilancetta/error.hpp"
#include "bilancetta/report.hpp"
#include "commands.hpp"

using namespace bilancetta;

namespace
{

struct TablesCommand {
  std::string my_tables, key, group, place;
  double density = 0.0;
  bool json = false;
};

const Tables& chosen(const TablesCommand& command, Tables& storage)
{
  ReadingOptions options;
  options.my_tables = command.my_tables;
  return tables_of(options, storage);
}

std::string line_of(const Tables& tables, const Material& m)
{
  return fmt::format("{:<20} {:>6.2f}  {:<24} {}\n", m.key, typical_density_g_cm3(m, tables.constituents), m.group,
                     m.name);
}

int list(const TablesCommand& command, std::ostream& out)
{
  Tables storage;
  const Tables& tables = chosen(command, storage);
  if (command.json) {
    out << json_tables(tables) << '\n';
    return 0;
  }
  const std::string place = command.place.empty() ? "" : place_called(tables, command.place).key;
  const auto in_group = [&](const Material& m) { return m.group == command.group; };
  if (!command.group.empty() && std::none_of(tables.materials.begin(), tables.materials.end(), in_group)) {
    std::set<std::string> groups;
    for (const Material& m : tables.materials) {
      groups.insert(m.group);
    }
    throw Error(ErrorCode::unknown_key,
                fmt::format("\"{}\" is not a family; there are {}", command.group, fmt::join(groups, ", ")),
                {.field = "--group"});
  }
  int shown = 0;
  for (const Material& m : tables.materials) {
    if ((command.group.empty() || m.group == command.group) && (place.empty() || m.found.contains(place))) {
      out << line_of(tables, m);
      ++shown;
    }
  }
  out << fmt::format("{} materials of {}, {} constituents; tables {}\n", shown, tables.materials.size(),
                     tables.constituents.size(), tables.checksum);
  return 0;
}

std::string range_text(const Range& r, double factor, const char* unit)
{
  return fmt::format("{:.4g} ({:.4g} to {:.4g}){}", factor * r.typical, factor * r.low, factor * r.high, unit);
}

int show(const TablesCommand& command, std::ostream& out)
{
  Tables storage;
  const Tables& tables = chosen(command, storage);
  const Material& m = material_called(tables, command.key);
  out << fmt::format("{}\n  key          {}\n  family       {}\n", m.name, m.key, m.group);
  out << (m.standard.empty() ? "" : fmt::format("  standard     {}\n", m.standard));
  for (const Component& c : m.components) {
    out << fmt::format("  {:<12} {} % by mass\n", tables.constituents[c.constituent].key,
                       range_text(c.fraction, 100, ""));
  }
  const double typical = typical_density_g_cm3(m, tables.constituents);
  out << fmt::format("  density      {:.2f} g/cm3 ({})\n", typical,
                     m.measured ? fmt::format("measured {}; {:+.1f} % from ideal mixing", range_text(m.density, 1, ""),
                                              100 * m.departure)
                     : m.porous ? fmt::format("pore-free {:.2f}, pores {}", ideal_density_g_cm3(m, tables.constituents),
                                              range_text(m.pores, 100, " % by volume"))
                                : std::string("by mixing; no measurement found"));
  out << (m.printed.empty() ? "" : fmt::format("  as printed   {}\n", m.printed));
  out << fmt::format("  scatter      {:.1f} %\n", 100 * m.scatter);
  for (const auto& [property, word] : m.words) {
    out << fmt::format("  {:<12} {}\n", property, word);
  }
  out << (m.conductivity_iacs.typical > 0
              ? fmt::format("  conductivity {}\n", range_text(m.conductivity_iacs, 1, " %IACS"))
              : "  conductivity not known\n");
  for (const auto& [place, commonness] : m.found) {
    out << fmt::format("  found        {}: {}\n", place, name_of(commonness));
  }
  for (const std::string& caution : m.cautions) {
    out << fmt::format("  caution      {}\n", caution);
  }
  const auto source = std::find_if(tables.sources.begin(), tables.sources.end(),
                                   [&](const Source& s) { return s.key == m.origin.source; });
  out << fmt::format("  source       {}{}{}\n  provenance   {}\n",
                     source == tables.sources.end() ? "none" : source->title, m.origin.where.empty() ? "" : ", ",
                     m.origin.where, name_of(m.origin.provenance));
  out << (m.note.empty() ? "" : fmt::format("  note         {}\n", m.note));
  return 0;
}

int nearest(const TablesCommand& command, std::ostream& out)
{
  Tables storage;
  const Tables& tables = chosen(command, storage);
  if (!(command.density > 0.5 && command.density < 23.0)) {
    throw Error(ErrorCode::bad_option, fmt::format("{} is outside 0.5 to 23 g/cm3", command.density), {.field = "RHO"});
  }
  std::vector<std::pair<double, const Material*>> order;
  for (const Material& m : tables.materials) {
    order.emplace_back(std::abs(typical_density_g_cm3(m, tables.constituents) - command.density), &m);
  }
  std::stable_sort(order.begin(), order.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  for (std::size_t i = 0; i < std::min<std::size_t>(order.size(), 12); ++i) {
    out << line_of(tables, *order[i].second);
  }
  return 0;
}

int check_directory(const TablesCommand& command, std::ostream& out)
{
  const Tables tables = tables_with(command.key);
  out << fmt::format("{}: good; with the built-in rows {} materials and {} constituents, tables {}\n", command.key,
                     tables.materials.size(), tables.constituents.size(), tables.checksum);
  return 0;
}

}  // namespace

void add_tables(CLI::App& app, Run& run)
{
  auto command = std::make_shared<TablesCommand>();
  CLI::App* sub = app.add_subcommand("tables", "what is known about materials, with sources");
  sub->footer("Example: bilancetta tables show sterling");
  sub->add_flag("--json", command->json, "everything as one JSON object");
  sub->add_option("--my-tables", command->my_tables, "a directory of your own table files");
  sub->require_subcommand(0, 1);
  const auto does = [&run, command](CLI::App* action, int (*work)(const TablesCommand&, std::ostream&)) {
    action->fallthrough();  // --my-tables may stand behind it too
    action->callback(
        [command, &run, work] { run = [command, work](std::ostream& out) { return work(*command, out); }; });
  };
  sub->preparse_callback(
      [command, &run](std::size_t) { run = [command](std::ostream& out) { return list(*command, out); }; });
  CLI::App* list_command = sub->add_subcommand("list", "all materials, a line each: key, density, family, name");
  list_command->add_option("--group", command->group, "only this family");
  list_command->add_option("--found", command->place, "only what is found at this place");
  does(list_command, list);
  CLI::App* show_command = sub->add_subcommand("show", "one material in full");
  show_command->add_option("key", command->key, "its key or name")->required();
  does(show_command, show);
  CLI::App* nearest_command = sub->add_subcommand("nearest", "what lies near a density");
  nearest_command->add_option("rho", command->density, "g/cm3")->required();
  does(nearest_command, nearest);
  CLI::App* check_command = sub->add_subcommand("check", "check a directory of your own table files");
  check_command->add_option("directory", command->key, "the directory")->required();
  does(check_command, check_directory);
}
