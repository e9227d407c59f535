#include "bilancetta/tables.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <fstream>
#include <sstream>

#include "bilancetta/error.hpp"
#include "bilancetta/spelling.hpp"
#include "marks.hpp"
#include "table_reader.hpp"

namespace bilancetta
{

namespace
{

[[noreturn]] void refuse_unknown(const std::string& kind, std::string_view name, const std::string& nearest)
{
  // A place is told by where it was found.
  throw Error(ErrorCode::unknown_key, fmt::format("\"{}\" is not a known {}; the nearest are {}", name, kind, nearest),
              {.field = kind == "place" ? "found" : kind});
}

template <typename Row>
bool answers_to(const Row& row, std::string_view wanted)
{
  return same_name(row.key, wanted) || std::any_of(row.names.begin(), row.names.end(),
                                                   [&](const std::string& name) { return same_name(name, wanted); });
}

template <typename Row>
const Row* find_named(const std::vector<Row>& rows, std::string_view name)
{
  // Mostly the key itself, as written; only else are spellings compared.
  const auto same = std::find_if(rows.begin(), rows.end(), [&](const Row& row) { return row.key == name; });
  if (same != rows.end()) {
    return &*same;
  }
  const auto match = std::find_if(rows.begin(), rows.end(), [&](const Row& row) { return answers_to(row, name); });
  return match == rows.end() ? nullptr : &*match;
}

template <typename Row>
const Row& row_called(const char* kind, const std::vector<Row>& rows, std::string_view name)
{
  if (const Row* row = find_named(rows, name)) {
    return *row;
  }
  std::vector<std::string> keys;
  keys.reserve(rows.size());
  for (const Row& row : rows) {
    keys.push_back(row.key);
  }
  refuse_unknown(kind, name, nearest_names(name, keys));
}

template <typename Row>
int find_key(const std::vector<Row>& rows, std::string_view key)
{
  const auto match = std::find_if(rows.begin(), rows.end(), [&](const Row& row) { return row.key == key; });
  return match == rows.end() ? -1 : static_cast<int>(match - rows.begin());
}

// A number as a spreadsheet has rewritten it, "9.25E+02", and how it was; or nothing.
std::string before_rewriting(std::string_view name)
{
  double value = 0.0;
  const auto [end, trouble] = std::from_chars(name.data(), name.data() + name.size(), value);
  const bool number = trouble == std::errc() && end == name.data() + name.size() && std::isfinite(value);
  return number && name.find_first_of("eE") != std::string_view::npos ? fmt::format("{}", value) : "";
}

// What a claim without opposites of its own must be told from (judgement).
std::vector<int> common_metals_apart_from(const Tables& tables, const Material& claimed)
{
  constexpr double apart = 0.04;
  std::vector<int> metals;
  for (const char* key :
       {"fine-silver", "c11000", "c26000", "c75200", "steel-low-carbon", "sn-pb-60", "gold-18k-yellow"}) {
    const int m = find_material(tables, key);
    const double ratio = typical_density_g_cm3(tables.materials[m], tables.constituents) /
                         typical_density_g_cm3(claimed, tables.constituents);
    if (std::abs(ratio - 1.0) > apart) {
      metals.push_back(m);
    }
  }
  return metals;
}

}  // namespace

std::string_view name_of(Build build)
{
  constexpr std::string_view names[] = {"solid", "plated", "inlay", "other"};
  return names[static_cast<int>(build)];
}

std::string_view name_of(Form form)
{
  constexpr std::string_view names[] = {"solid", "hollow", "filled", "unsure"};
  return names[static_cast<int>(form)];
}

std::string_view name_of(Urgency urgency)
{
  constexpr std::string_view names[] = {"stop", "care", "note"};
  return names[static_cast<int>(urgency)];
}

const Tables& built_in_tables()
{
  static const Tables tables = read_tables(embedded_tables());
  return tables;
}

Tables tables_with(const std::filesystem::path& directory)
{
  std::error_code trouble;
  std::vector<std::filesystem::path> paths;
  for (const auto& entry : std::filesystem::directory_iterator(directory, trouble)) {
    std::error_code lost;
    if (entry.path().extension() == ".toml" && entry.is_regular_file(lost)) {
      paths.push_back(entry.path());
    } else if (lost && lost != std::errc::no_such_file_or_directory) {
      throw Error(ErrorCode::cannot_open,
                  fmt::format("cannot be read ({}); put the file in its place or take it away", lost.message()),
                  {.file = entry.path().string()});
    }
  }
  if (trouble || paths.empty()) {
    throw Error(ErrorCode::cannot_open, "no *.toml files can be read here; give a directory of table files",
                {.file = directory.string()});
  }
  std::sort(paths.begin(), paths.end());
  std::vector<TableText> texts;
  for (const auto& path : paths) {
    std::ifstream in(path, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    if (!in) {
      throw Error(ErrorCode::cannot_open, "cannot be read", {.file = path.string()});
    }
    texts.push_back({path.string(), text.str()});
  }
  return read_tables(embedded_tables(), texts);
}

int find_constituent(const Tables& tables, std::string_view key)
{
  return find_key(tables.constituents, key);
}
int find_material(const Tables& tables, std::string_view key)
{
  return find_key(tables.materials, key);
}
int find_caution(const Tables& tables, std::string_view key)
{
  return find_key(tables.cautions, key);
}

const Material& material_called(const Tables& tables, std::string_view name)
{
  std::vector<NamedKey> keys;
  for (const Material& material : tables.materials) {
    if (same_name(material.key, name) || same_name(material.name, name)) {
      return material;
    }
    keys.push_back({material.key, material.name});
  }
  refuse_unknown("material", name, nearest_keys(name, keys));
}

const Constituent& constituent_called(const Tables& tables, std::string_view name)
{
  std::vector<std::string> keys;
  for (const Constituent& constituent : tables.constituents) {
    if (same_name(constituent.key, name) || same_name(constituent.name, name)) {
      return constituent;
    }
    keys.push_back(constituent.key);
    keys.push_back(constituent.name);
  }
  refuse_unknown("constituent", name, nearest_names(name, keys));
}

std::string family_called(const Tables& tables, std::string_view name)
{
  std::vector<std::string> groups;
  for (const Material& material : tables.materials) {
    if (same_name(material.group, name)) {
      return material.group;
    }
    if (std::find(groups.begin(), groups.end(), material.group) == groups.end()) {
      groups.push_back(material.group);
    }
  }
  refuse_unknown("family", name, nearest_names(name, groups));
}

const Place& place_called(const Tables& tables, std::string_view name)
{
  return row_called("place", tables.places, name);
}
const BenchTest& test_called(const Tables& tables, std::string_view name)
{
  return row_called("test", tables.tests, name);
}

const Claim* find_claim(const Tables& tables, std::string_view name)
{
  for (const std::string& mark : {std::string(name), plain_mark(name)}) {
    if (const Claim* claim = find_named(tables.claims, mark)) {
      return claim;
    }
  }
  const Claim* coat = find_named(tables.claims, mark_of_coat(name));
  if (coat == nullptr || coat->plated_with.empty()) {
    return nullptr;
  }
  // A karat or share is that of gold: "14k plated" is no silver plate.
  const bool amount = name.find_first_of("0123456789") != std::string_view::npos;
  return !amount || tables.materials[coat->plated_with.front()].group == "gold" ? coat : nullptr;
}

Claim claim_called(const Tables& tables, std::string_view name)
{
  if (const Claim* claim = find_claim(tables, name)) {
    return *claim;
  }
  std::vector<NamedKey> known;
  for (const Claim& claim : tables.claims) {
    known.push_back({claim.key, claim.name, claim.names});
  }
  for (std::size_t i = 0; i < tables.materials.size(); ++i) {
    const Material& material = tables.materials[i];
    if (same_name(material.key, name)) {
      Claim claim;
      claim.key = material.key;
      claim.name = material.name;
      claim.materials = {static_cast<int>(i)};
      claim.origin = material.origin;
      claim.opposites = common_metals_apart_from(tables, material);
      return claim;
    }
    known.push_back({material.key, material.name});
  }
  if (const std::string mark = before_rewriting(name); !mark.empty()) {
    throw Error(
        ErrorCode::unknown_key,
        fmt::format("\"{}\" is a number as a spreadsheet rewrites it; write {}, in a column that is set to text", name,
                    mark),
        {.field = "claim"});
  }
  refuse_unknown("claim", name, nearest_keys(name, known));
}

}  // namespace bilancetta
