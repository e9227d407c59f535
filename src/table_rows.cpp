#include "table_rows.hpp"

#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "bilancetta/spelling.hpp"

namespace bilancetta
{

Source read_source(const TomlRow& row)
{
  row.allow_only({"key", "title", "note"});
  return {row.text("key"), row.text("title"), row.text_or("note", ""), row.origin()};
}

Constituent read_constituent(const TomlRow& row)
{
  row.allow_only(
      {"key", "name", "density", "standard_uncertainty", "printed", "source", "where", "provenance", "note", "reason"});
  Constituent c{row.text("key"),
                row.text("name"),
                row.number("density"),
                row.number("standard_uncertainty"),
                row.text_or("printed", ""),
                row.origin()};
  if (!(c.density_g_cm3 > 0.05 && c.density_g_cm3 < 23.0)) {
    row.refuse("density", fmt::format("{} is outside 0.05 to 23 g/cm3", c.density_g_cm3));
  }
  if (!(c.standard_uncertainty >= 0.0 && c.standard_uncertainty <= 0.5 * c.density_g_cm3)) {
    row.refuse("standard_uncertainty",
               fmt::format("{} g/cm3 is outside 0 to half of the density", c.standard_uncertainty));
  }
  return c;
}

namespace
{

template <typename Row>
[[noreturn]] void refuse_key(const TomlRow& row, std::string_view field, std::string_view key, const char* kind,
                             const std::vector<Row>& rows)
{
  std::vector<std::string> known;
  known.reserve(rows.size());
  for (const Row& one : rows) {
    known.push_back(one.key);
  }
  row.refuse(field, fmt::format("\"{}\" is not a {} of the tables; the nearest are {}, or add a [[{}]] row for it", key,
                                kind, nearest_names(key, known), kind));
}

}  // namespace

void refuse_repeated(const TomlRow& row, std::string_view field, std::string_view key)
{
  row.refuse(field, fmt::format("\"{}\" stands twice; once is enough", key));
}

int constituent_index(const Tables& tables, const TomlRow& row, std::string_view field, std::string_view key)
{
  const int index = find_constituent(tables, key);
  if (index < 0) {
    refuse_key(row, field, key, "constituent", tables.constituents);
  }
  return index;
}

namespace
{

int material_index(const Tables& tables, const TomlRow& row, std::string_view field, std::string_view key)
{
  const int index = find_material(tables, key);
  if (index < 0) {
    refuse_key(row, field, key, "material", tables.materials);
  }
  return index;
}

std::vector<int> material_indices(const Tables& tables, const TomlRow& row, std::string_view field)
{
  std::vector<int> all;
  for (const std::string& key : row.texts(field)) {
    const int index = material_index(tables, row, field, key);
    if (std::find(all.begin(), all.end(), index) != all.end()) {
      refuse_repeated(row, field, key);
    }
    all.push_back(index);
  }
  return all;
}

std::vector<std::string> caution_keys(const Tables& tables, const TomlRow& row, std::string_view field)
{
  std::vector<std::string> keys = row.texts(field);
  for (const std::string& key : keys) {
    if (find_caution(tables, key) < 0) {
      refuse_key(row, field, key, "caution", tables.cautions);
    }
  }
  return keys;
}

}  // namespace

BuildRow read_build(const Tables& tables, const TomlRow& row, Build build, const char* outer, std::string_view inner,
                    const char* amount)
{
  const std::string_view of_inlays = build == Build::inlay ? "both_faces" : outer;
  row.allow_only({"key", outer, inner, amount, of_inlays, "found", "source", "where", "provenance", "note", "reason"});
  BuildRow b{row.text("key"),
             build,
             material_indices(tables, row, outer),
             material_indices(tables, row, inner),
             row.range(amount),
             row.found("found"),
             row.flag_or("both_faces", false),
             row.origin()};
  if (b.outer.empty() || (inner != no_inner && b.inner.empty())) {
    row.refuse(outer, "at least one material is needed on each side");
  }
  if (b.amount.low <= 0.0 || (build != Build::plated && b.amount.high >= 1.0)) {
    row.refuse(amount, build == Build::plated ? "a thickness above 0 is needed" : "a share between 0 and 1 is needed");
  }
  return b;
}

namespace
{

std::array<double, 4> read_shares_of_builds(const TomlRow& row)
{
  std::array<double, 4> shares{};
  const auto builds = row.numbers("builds");
  double sum = 0.0;
  for (const auto& [name, share] : builds) {
    if (std::none_of(all_builds.begin(), all_builds.end(),
                     [&, &name = name](Build build) { return name_of(build) == name; })) {
      row.refuse("builds", fmt::format("\"{}\" is not one of solid, plated, inlay, other", name));
    }
  }
  for (const Build build : all_builds) {
    const auto match = builds.find(std::string(name_of(build)));
    const double chance = match == builds.end() ? 0.0 : match->second;
    if (chance < 0.0) {
      row.refuse("builds", fmt::format("{} is {}; no share is below 0", name_of(build), chance));
    }
    shares[static_cast<int>(build)] = chance;
    sum += chance;
  }
  if (std::abs(sum - 1.0) > 1e-6) {
    row.refuse("builds", fmt::format("solid, plated, inlay and other sum to {}, not 1", sum));
  }
  return shares;
}

std::map<std::string, Commonness> read_families(const Tables& tables, const TomlRow& row)
{
  std::vector<std::string> groups;
  groups.reserve(tables.materials.size());
  for (const Material& material : tables.materials) {
    groups.push_back(material.group);
  }
  std::map<std::string, Commonness> families;
  for (const Commonness c : {Commonness::chief, Commonness::common, Commonness::sometimes, Commonness::rare}) {
    for (const std::string& family : row.texts(name_of(c))) {
      if (std::find(groups.begin(), groups.end(), family) == groups.end()) {
        row.refuse(name_of(c), fmt::format("\"{}\" is the family of no material; the nearest are {}, or add a "
                                           "[[material]] row of this group",
                                           family, nearest_names(family, groups)));
      }
      if (!families.try_emplace(family, c).second) {
        row.refuse(name_of(c), fmt::format("\"{}\" stands twice among the families of this place", family));
      }
    }
  }
  return families;
}

}  // namespace

Place read_place(const Tables& tables, const TomlRow& row)
{
  row.allow_only({"key", "names", "builds", "chief", "common", "sometimes", "rare", "coats_only", "form", "marks",
                  "hazards", "shape_factor", "source", "where", "provenance", "note", "reason"});
  Place p;
  p.key = row.text("key");
  p.names = row.texts("names");
  p.builds = read_shares_of_builds(row);
  p.families = read_families(tables, row);
  p.coats_only = row.texts("coats_only");
  for (const std::string& family : p.coats_only) {
    if (!p.families.contains(family)) {
      row.refuse("coats_only", fmt::format("\"{}\" is not among the families of this place", family));
    }
  }
  p.form = row.has("form") ? row.one_of("form", all_forms) : Form::solid;
  p.marks = row.flag_or("marks", true);
  p.hazards = caution_keys(tables, row, "hazards");
  if (row.has("shape_factor")) {
    p.shape_factor = row.range("shape_factor");
    // Of a sphere: no body has less area for its volume.
    if (p.shape_factor.low < 4.83) {
      row.refuse("shape_factor", fmt::format("{} is below 4.83, that of a sphere", p.shape_factor.low));
    }
  }
  p.reason = row.text_or("reason", "");
  p.origin = row.origin();
  return p;
}

BenchTest read_test(const Tables& tables, const TomlRow& row)
{
  row.allow_only({"key", "names", "site", "property", "answers", "step", "marks", "effort", "cautions", "likelihood",
                  "likelihood-nitric", "relative_sd", "source", "where", "provenance", "note", "reason"});
  BenchTest t;
  t.key = row.text("key");
  if (std::find(bench_test_keys.begin(), bench_test_keys.end(), t.key) == bench_test_keys.end()) {
    row.refuse("key", fmt::format("\"{}\" is not a test whose answer can be given; a row may replace one of {}", t.key,
                                  fmt::join(bench_test_keys, ", ")));
  }
  t.names = row.texts("names");
  t.site = row.word("site", {"skin", "notch", "back", "piece"});
  t.property =
      row.word("property", {"magnet", "skin", "colour", "chromate", "build", "file", "paper", "conductivity_iacs"});
  t.answers = row.texts("answers");
  t.step = row.text("step");
  t.marks = row.flag_or("marks", false);
  t.effort = row.has("effort") ? row.whole("effort", 1, 8) : 1;
  t.cautions = caution_keys(tables, row, "cautions");
  t.likelihood = row.answers("likelihood");
  t.likelihood_nitric = row.answers("likelihood-nitric");
  t.relative_sd = row.has("relative_sd") ? row.chance("relative_sd") : 0.0;
  t.origin = row.origin();
  return t;
}

Claim read_claim(const Tables& tables, const TomlRow& row)
{
  row.allow_only({"key", "names", "name", "meaning", "materials", "plated_with", "opposites", "source", "where",
                  "provenance", "note", "reason"});
  Claim c;
  c.key = row.text("key");
  c.name = row.text("name");
  c.names = row.texts("names");
  c.materials = material_indices(tables, row, "materials");
  c.meaning = row.text_or("meaning", "");
  c.plated_with = row.is_text("plated_with")
                      ? std::vector{material_index(tables, row, "plated_with", row.text("plated_with"))}
                      : material_indices(tables, row, "plated_with");
  if (c.materials.empty() && c.plated_with.empty()) {
    row.refuse("materials", "a claim needs materials, or plated_with");
  }
  c.opposites = material_indices(tables, row, "opposites");
  c.origin = row.origin();
  return c;
}

Caution read_caution(const Tables& tables, const TomlRow& row)
{
  row.allow_only({"key", "urgency", "counts_from", "constituents", "text", "why", "source", "where", "provenance",
                  "note", "reason"});
  Caution c;
  c.key = row.text("key");
  c.urgency = row.one_of("urgency", all_urgencies);
  c.text = row.text("text");
  c.why = row.text_or("why", "");
  c.counts_from = row.has("counts_from") ? row.chance("counts_from") : 0.001;
  for (const std::string& key : row.texts("constituents")) {
    c.constituents.push_back(constituent_index(tables, row, "constituents", key));
  }
  c.origin = row.origin();
  return c;
}

}  // namespace bilancetta
