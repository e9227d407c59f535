#include "table_reader.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <functional>

#include "bilancetta/error.hpp"
#include "bilancetta/spelling.hpp"
#include "table_rows.hpp"

namespace bilancetta
{

namespace
{

struct Document {
  toml::table table;
  std::string file;
  bool users = false;
};

Document parsed(const TableText& text, bool users)
{
  try {
    return {toml::parse(text.text, text.name), text.name, users};
  } catch (const toml::parse_error& error) {
    throw Error(ErrorCode::bad_table, fmt::format("not valid TOML: {}", error.description()),
                {.file = text.name, .line = static_cast<int>(error.source().begin.line)});
  }
}

// A misspelt kind of row would be silently lost.
void check_kinds(const Document& document)
{
  static const std::vector<std::string> kinds = {"source", "constituent", "departure", "process", "material",
                                                 "plated", "inlay",       "hollow",    "joined",  "open-mix",
                                                 "place",  "test",        "facts",     "claim",   "caution"};
  for (const auto& [kind, node] : document.table) {
    if (std::find(kinds.begin(), kinds.end(), kind.str()) == kinds.end()) {
      const bool row = node.is_table() || node.is_array_of_tables();
      TomlRow(document.table, document.file)
          .refuse(kind.str(), row ? fmt::format("no such kind of row; the nearest are {}; see tables/README.md",
                                                nearest_names(kind.str(), kinds))
                                  : "this line stands in no row; write its kind, such as [[material]], above it");
    }
  }
}

// Every row of one kind, in order; a user's row stands in place of the built-in row with its key.
template <typename Row>
void read_rows(const std::vector<Document>& documents, std::string_view kind, std::vector<Row>& rows,
               const std::function<Row(const TomlRow&)>& read)
{
  std::map<std::string, std::pair<std::size_t, bool>> known;
  for (const Document& document : documents) {
    if (!document.table.contains(kind)) {
      continue;
    }
    const toml::array* array = document.table.get_as<toml::array>(kind);
    if (!array) {
      TomlRow(document.table, document.file)
          .refuse(kind, fmt::format("write [[{}]], with two brackets, above each row", kind));
    }
    for (const toml::node& node : *array) {
      const toml::table* table = node.as_table();
      if (!table) {
        throw Error(ErrorCode::bad_table, fmt::format("[[{}]] rows must be tables", kind), {.file = document.file});
      }
      const TomlRow row(*table, document.file);
      const std::string key = row.text("key");
      if (key.empty() || key.find_first_of(" ,;\"\t\n") != std::string::npos) {
        row.refuse("key", fmt::format("\"{}\" can be no key: letters, digits and hyphens are expected", key));
      }
      const auto match = known.find(key);
      if (match == known.end()) {
        known[key] = {rows.size(), document.users};
        rows.push_back(read(row));
      } else if (match->second.second == document.users) {
        const Origin& first = rows[match->second.first].origin;
        row.refuse("key", fmt::format("\"{}\" stands already in {}:{}; give each row its own key", key, first.file,
                                      first.line));
      } else {
        match->second.second = true;
        rows[match->second.first] = read(row);
      }
    }
  }
}

BenchFacts read_facts(const Tables& tables, const TomlRow& row)
{
  row.allow_only({"notch_through_coat", "reagent_works", "reagent_works_if_checked", "skin_clean",
                  "one_answer_for_a_metal", "dead_reagent", "dirty_skin_reagent", "dirty_skin_colour", "source",
                  "where", "provenance", "note", "reason"});
  BenchFacts facts;
  facts.notch_through_coat = row.chance("notch_through_coat");
  facts.reagent_works = row.chance("reagent_works");
  facts.reagent_works_if_checked = row.chance("reagent_works_if_checked");
  facts.skin_clean = row.chance("skin_clean");
  facts.one_answer_for_a_metal = row.chance("one_answer_for_a_metal");
  facts.dead_reagent = row.chances("dead_reagent");
  facts.dirty_skin_reagent = row.chances("dirty_skin_reagent");
  facts.dirty_skin_colour = row.chances("dirty_skin_colour");
  facts.origin = row.origin();
  check_source(tables, facts.origin, "facts");
  return facts;
}

OpenMix read_open_mix(const Tables& tables, const TomlRow& row)
{
  row.allow_only({"constituents", "log_ratio_sd", "prior", "source", "where", "provenance", "note", "reason"});
  OpenMix mix;
  for (const std::string& key : row.texts("constituents")) {
    const int index = constituent_index(tables, row, "constituents", key);
    if (std::find(mix.constituents.begin(), mix.constituents.end(), index) != mix.constituents.end()) {
      refuse_repeated(row, "constituents", key);
    }
    mix.constituents.push_back(index);
  }
  if (mix.constituents.size() < 2 || mix.constituents.size() > open_mix_variables + 1) {
    row.refuse("constituents", fmt::format("2 to {} constituents are needed", open_mix_variables + 1));
  }
  mix.log_ratio_sd = row.number("log_ratio_sd");
  if (mix.log_ratio_sd <= 0.0) {
    row.refuse("log_ratio_sd", "a standard deviation above 0 is required here");
  }
  mix.prior = row.chance("prior");
  check_source(tables, row.origin(), "open-mix");
  return mix;
}

void read_single_tables(const std::vector<Document>& documents, Tables& tables)
{
  for (const Document& document : documents) {
    const TomlRow top(document.table, document.file);
    if (const auto mix = top.inner("open-mix")) {
      tables.open_mix = read_open_mix(tables, *mix);
    }
    if (const auto facts = top.inner("facts")) {
      tables.facts = read_facts(tables, *facts);
    }
  }
}

std::string checksum_of(const std::vector<TableText>& built_in, const std::vector<TableText>& users)
{
  std::uint64_t hash = 14695981039346656037ULL;
  for (const auto* texts : {&built_in, &users}) {
    for (const TableText& text : *texts) {
      for (const char c : text.text) {
        hash = (hash ^ static_cast<unsigned char>(c)) * 1099511628211ULL;
      }
    }
  }
  return fmt::format("{:016x}", hash);
}

}  // namespace

Tables read_tables(const std::vector<TableText>& built_in, const std::vector<TableText>& users)
{
  std::vector<Document> documents;
  documents.reserve(built_in.size() + users.size());
  for (const TableText& text : built_in) {
    documents.push_back(parsed(text, false));
  }
  for (const TableText& text : users) {
    documents.push_back(parsed(text, true));
  }
  std::for_each(documents.begin(), documents.end(), check_kinds);
  Tables tables;
  tables.checksum = checksum_of(built_in, users);
  read_rows<Source>(documents, "source", tables.sources, read_source);
  read_rows<Constituent>(documents, "constituent", tables.constituents, read_constituent);
  read_rows<Departure>(documents, "departure", tables.departures,
                       [&](const TomlRow& row) { return read_departure(tables, row); });
  read_rows<Process>(documents, "process", tables.processes, read_process);
  read_rows<Material>(documents, "material", tables.materials,
                      [&](const TomlRow& row) { return read_material(tables, row); });
  read_rows<BuildRow>(documents, "plated", tables.builds, [&](const TomlRow& row) {
    return read_build(tables, row, Build::plated, "coats", "cores", "thickness_um");
  });
  std::vector<BuildRow> more;
  read_rows<BuildRow>(documents, "inlay", more, [&](const TomlRow& row) {
    return read_build(tables, row, Build::inlay, "faces", "carriers", "share");
  });
  std::vector<BuildRow> hollow;
  read_rows<BuildRow>(documents, "hollow", hollow, [&](const TomlRow& row) {
    return read_build(tables, row, Build::other, "materials", no_inner, "void");
  });
  std::vector<BuildRow> joined;
  read_rows<BuildRow>(documents, "joined", joined, [&](const TomlRow& row) {
    return read_build(tables, row, Build::other, "parts", "others", "share");
  });
  tables.builds.insert(tables.builds.end(), more.begin(), more.end());
  tables.builds.insert(tables.builds.end(), joined.begin(), joined.end());
  tables.builds.insert(tables.builds.end(), hollow.begin(), hollow.end());
  read_rows<Caution>(documents, "caution", tables.cautions,
                     [&](const TomlRow& row) { return read_caution(tables, row); });
  read_rows<Place>(documents, "place", tables.places, [&](const TomlRow& row) { return read_place(tables, row); });
  read_rows<BenchTest>(documents, "test", tables.tests, [&](const TomlRow& row) { return read_test(tables, row); });
  read_rows<Claim>(documents, "claim", tables.claims, [&](const TomlRow& row) { return read_claim(tables, row); });
  read_single_tables(documents, tables);
  check_tables(tables, !users.empty());
  return tables;
}

}  // namespace bilancetta
