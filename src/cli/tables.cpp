#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <memory>

#include "bilancetta/error.hpp"
#include "bilancetta/report.hpp"
#include "commands.hpp"

using namespace bilancetta;

namespace
{

struct TablesCommand {
  std::string my_tables, key;
  MaterialFilter only;
  double density = 0.0;
  bool json = false;
};

const Tables& chosen(const TablesCommand& command, Tables& storage)
{
  ReadingOptions options;
  options.my_tables = command.my_tables;
  return tables_of(options, storage);
}

// A line each, in columns.
std::string lines_of(const Tables& tables, const std::vector<const Material*>& materials)
{
  std::size_t widest = 0;
  for (const Material* m : materials) {
    widest = std::max(widest, m->key.size());
  }
  std::string lines;
  for (const Material* m : materials) {
    lines += fmt::format("{:<{}}  {:>5.2f}  {:<24} {}\n", m->key, widest,
                         typical_density_g_cm3(*m, tables.constituents), m->group, m->name);
  }
  return lines;
}

int list(const TablesCommand& command, std::ostream& out)
{
  Tables storage;
  const Tables& tables = chosen(command, storage);
  const std::vector<const Material*> materials = materials_passing(tables, command.only);
  if (command.json) {
    out << json_tables(tables, materials) << '\n';
    return 0;
  }
  out << lines_of(tables, materials);
  out << fmt::format("{} materials of {}, {} constituents; tables {}\n", materials.size(), tables.materials.size(),
                     tables.constituents.size(), tables.checksum);
  return 0;
}

int show(const TablesCommand& command, std::ostream& out)
{
  Tables storage;
  const Tables& tables = chosen(command, storage);
  // A mark stands for all that may bear it.
  const Claim* claim = find_claim(tables, command.key);
  std::vector<const Material*> all;
  if (claim == nullptr || claim->materials.empty() || find_material(tables, command.key) >= 0) {
    all = {&material_called(tables, command.key)};
  } else {
    for (const int material : claim->materials) {
      all.push_back(&tables.materials[material]);
    }
  }
  if (command.json) {
    out << (all.size() == 1 ? json_material(tables, *all.front()) : json_materials(tables, all)) << '\n';
    return 0;
  }
  for (const Material* m : all) {
    out << material_text(tables, *m) << (m == all.back() ? "" : "\n");
  }
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
  std::vector<const Material*> first;
  for (std::size_t i = 0; i < std::min<std::size_t>(order.size(), 12); ++i) {
    first.push_back(order[i].second);
  }
  out << (command.json ? json_materials(tables, first) + "\n" : lines_of(tables, first));
  return 0;
}

int check_directory(const TablesCommand& command, std::ostream& out)
{
  if (command.json) {
    throw Error(ErrorCode::bad_option, "goes with list, show and nearest", {.field = "--json"});
  }
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
  sub->footer("Example:\n  bilancetta tables show sterling");
  sub->add_flag("--json", command->json, "as JSON: everything, or what the command shows");
  sub->add_option("--my-tables,--tables", command->my_tables, "a directory of your own table files")
      ->type_name("DIRECTORY");
  sub->require_subcommand(0, 1);
  const auto does = [&run, command](CLI::App* action, int (*work)(const TablesCommand&, std::ostream&)) {
    action->fallthrough();  // --my-tables may stand behind it too
    action->callback(
        [command, &run, work] { run = [command, work](std::ostream& out) { return work(*command, out); }; });
  };
  sub->preparse_callback(
      [command, &run](std::size_t) { run = [command](std::ostream& out) { return list(*command, out); }; });
  CLI::App* list_command = sub->add_subcommand("list", "all materials, a line each: key, density, family, name");
  list_command->footer(
      "Example: what may be found in relays and holds silver\n  bilancetta tables list --found relay --holds Ag");
  list_command->add_option("--group", command->only.group, "only this family")->type_name("FAMILY");
  list_command->add_option("--found", command->only.place, "only what is found at this place")->type_name("PLACE");
  list_command
      ->add_option("--holds", command->only.holds,
                   "only what holds this constituent, such as Ag; a metal also in its compounds, Cd in CdO; several: "
                   "all of them")
      ->type_name("NAME...");
  list_command->add_option("--from", command->only.from, "only what is at least this dense, g/cm3")->type_name("R");
  list_command->add_option("--to", command->only.to, "only what is at most this dense, g/cm3")->type_name("R");
  does(list_command, list);
  CLI::App* show_command = sub->add_subcommand("show", "one material in full");
  show_command->add_option("key", command->key, "its key or name")->required()->type_name("");
  does(show_command, show);
  CLI::App* nearest_command = sub->add_subcommand("nearest", "what lies near a density");
  nearest_command->footer("Example:\n  bilancetta tables nearest 10.36");
  nearest_command->add_option("rho", command->density, "g/cm3")->required()->type_name("");
  does(nearest_command, nearest);
  CLI::App* check_command = sub->add_subcommand("check", "check a directory of your own table files");
  check_command->footer("Example:\n  bilancetta tables check my-tables");
  check_command->add_option("directory", command->key, "the directory")->required()->type_name("");
  does(check_command, check_directory);
}
