#include "bilancetta/report.hpp"
#include "json_number.hpp"

namespace bilancetta
{

namespace
{

Json range_json(const Range& range)
{
  return {{"low", number(range.low)}, {"typical", number(range.typical)}, {"high", number(range.high)}};
}

Json material_json(const Tables& tables, const Material& m)
{
  Json fractions = Json::object();
  for (const Component& component : m.components) {
    fractions[tables.constituents[component.constituent].key] = range_json(component.fraction);
  }
  Json found = Json::object();
  for (const auto& [place, commonness] : m.found) {
    found[place] = name_of(commonness);
  }
  const double typical = typical_density_g_cm3(m, tables.constituents);
  const double ideal = ideal_density_g_cm3(m, tables.constituents);
  const Range density = m.measured ? m.density
                        : m.porous ? Range{ideal * (1 - m.pores.high), typical, ideal * (1 - m.pores.low)}
                                   : Range{typical * (1 - 2 * m.scatter), typical, typical * (1 + 2 * m.scatter)};
  return {{"key", m.key},
          {"name", m.name},
          {"group", m.group},
          {"standard", m.standard},
          {"fractions", fractions},
          {"density", range_json(density)},
          {"departure", number(m.departure.typical)},
          {"system", m.system.empty() ? Json() : Json(m.system)},
          {"process", m.process.empty() ? Json() : Json(m.process)},
          {"pores", m.porous ? range_json(m.pores) : Json()},
          {"scatter", m.scatter},
          {"words", m.words},
          {"conductivity_iacs", m.conductivity_iacs.typical > 0 ? range_json(m.conductivity_iacs) : Json()},
          {"cautions", m.cautions},
          {"found", found},
          {"measured", m.printed},
          {"source", m.origin.source},
          {"where", m.origin.where},
          {"provenance", name_of(m.origin.provenance)},
          {"note", m.note}};
}

// The row's own fields with where they come from.
Json with_origin(Json row, const Origin& origin)
{
  row["source"] = origin.source;
  row["where"] = origin.where;
  row["provenance"] = name_of(origin.provenance);
  return row;
}

// Keys of some of these rows.
template <typename Row>
Json keys_json(const std::vector<Row>& rows, const std::vector<int>& which)
{
  Json list = Json::array();
  for (const int index : which) {
    list.push_back(rows[index].key);
  }
  return list;
}

// As it may be written in the row: one coat by its key, several as a list.
Json coats_json(const Tables& tables, const Claim& claim)
{
  const std::vector<int>& coats = claim.plated_with;
  return coats.empty()       ? Json()
         : coats.size() == 1 ? Json(tables.materials[coats.front()].key)
                             : keys_json(tables.materials, coats);
}

void add_models(Json& json, const Tables& tables)
{
  json["departures"] = Json::array();
  for (const Departure& d : tables.departures) {
    json["departures"].push_back(with_origin({{"key", d.key},
                                              {"name", d.name},
                                              {"constituents", keys_json(tables.constituents, d.constituents)},
                                              {"solutes", keys_json(tables.constituents, d.solutes)},
                                              {"others", number(d.others)},
                                              {"knots", d.knots},
                                              {"scatter", number(d.scatter)},
                                              {"rows", d.rows}},
                                             d.origin));
  }
  json["processes"] = Json::array();
  for (const Process& p : tables.processes) {
    json["processes"].push_back(with_origin({{"key", p.key},
                                             {"name", p.name},
                                             {"pores", range_json(p.pores)},
                                             {"scatter", number(p.scatter)},
                                             {"rows", p.rows}},
                                            p.origin));
  }
}

void add_places(Json& json, const Tables& tables)
{
  json["places"] = Json::array();
  for (const Place& p : tables.places) {
    Json builds = Json::object();
    for (const Build build : all_builds) {
      builds[std::string(name_of(build))] = number(p.builds[static_cast<int>(build)]);
    }
    Json families = Json::object();
    for (const auto& [family, commonness] : p.families) {
      families[family] = name_of(commonness);
    }
    json["places"].push_back(with_origin({{"key", p.key},
                                          {"names", p.names},
                                          {"builds", builds},
                                          {"families", families},
                                          {"form", name_of(p.form)},
                                          {"marks", p.marks},
                                          {"hazards", p.hazards}},
                                         p.origin));
  }
  json["claims"] = Json::array();
  for (const Claim& c : tables.claims) {
    json["claims"].push_back(with_origin({{"key", c.key},
                                          {"names", c.names},
                                          {"name", c.name},
                                          {"materials", keys_json(tables.materials, c.materials)},
                                          {"plated_with", coats_json(tables, c)},
                                          {"meaning", c.meaning},
                                          {"opposites", keys_json(tables.materials, c.opposites)}},
                                         c.origin));
  }
}

Json materials_json(const Tables& tables, const std::vector<const Material*>& materials)
{
  Json list = Json::array();
  for (const Material* m : materials) {
    list.push_back(material_json(tables, *m));
  }
  return list;
}

}  // namespace

std::string json_material(const Tables& tables, const Material& material, int indent)
{
  return json_text(material_json(tables, material), indent);
}

std::string json_materials(const Tables& tables, const std::vector<const Material*>& materials, int indent)
{
  return json_text(materials_json(tables, materials), indent);
}

std::string json_tables(const Tables& tables, const std::vector<const Material*>& materials, int indent)
{
  Json json;
  json["constituents"] = Json::array();
  for (const Constituent& c : tables.constituents) {
    json["constituents"].push_back({{"key", c.key},
                                    {"name", c.name},
                                    {"density", c.density_g_cm3},
                                    {"standard_uncertainty", c.standard_uncertainty},
                                    {"source", c.origin.source},
                                    {"provenance", name_of(c.origin.provenance)}});
  }
  json["materials"] = materials_json(tables, materials);
  add_models(json, tables);
  json["builds"] = Json::array();
  for (const BuildRow& b : tables.builds) {
    json["builds"].push_back(with_origin({{"key", b.key},
                                          {"build", name_of(b.build)},
                                          {"outer", keys_json(tables.materials, b.outer)},
                                          {"inner", keys_json(tables.materials, b.inner)},
                                          {"amount", range_json(b.amount)}},
                                         b.origin));
  }
  json["tests"] = Json::array();
  for (const BenchTest& t : tables.tests) {
    json["tests"].push_back(with_origin(
        {{"key", t.key}, {"site", t.site}, {"answers", t.answers}, {"step", t.step}, {"marks", t.marks}}, t.origin));
  }
  json["cautions"] = Json::array();
  for (const Caution& c : tables.cautions) {
    json["cautions"].push_back(
        with_origin({{"key", c.key}, {"urgency", name_of(c.urgency)}, {"text", c.text}}, c.origin));
  }
  add_places(json, tables);
  json["sources"] = Json::array();
  for (const Source& s : tables.sources) {
    json["sources"].push_back({{"key", s.key}, {"title", s.title}, {"note", s.note}});
  }
  json["checksum"] = tables.checksum;
  return json_text(json, indent);
}

}  // namespace bilancetta
