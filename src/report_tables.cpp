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

}  // namespace

std::string json_tables(const Tables& tables, int indent)
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
  json["materials"] = Json::array();
  for (const Material& m : tables.materials) {
    json["materials"].push_back(material_json(tables, m));
  }
  const auto keys = [&](const std::vector<int>& materials) {
    Json list = Json::array();
    for (const int m : materials) {
      list.push_back(tables.materials[m].key);
    }
    return list;
  };
  json["builds"] = Json::array();
  for (const BuildRow& b : tables.builds) {
    json["builds"].push_back({{"key", b.key},
                              {"build", name_of(b.build)},
                              {"outer", keys(b.outer)},
                              {"inner", keys(b.inner)},
                              {"amount", range_json(b.amount)}});
  }
  json["tests"] = Json::array();
  for (const BenchTest& t : tables.tests) {
    json["tests"].push_back(
        {{"key", t.key}, {"site", t.site}, {"answers", t.answers}, {"step", t.step}, {"marks", t.marks}});
  }
  json["cautions"] = Json::array();
  for (const Caution& c : tables.cautions) {
    json["cautions"].push_back({{"key", c.key}, {"urgency", c.urgency}, {"text", c.text}, {"source", c.origin.source}});
  }
  json["sources"] = Json::array();
  for (const Source& s : tables.sources) {
    json["sources"].push_back({{"key", s.key}, {"title", s.title}, {"note", s.note}});
  }
  json["checksum"] = tables.checksum;
  return json.dump(indent, ' ', false, Json::error_handler_t::replace);
}

}  // namespace bilancetta
