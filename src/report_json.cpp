#include "bilancetta/mixed_verdict.hpp"
#include "bilancetta/report.hpp"
#include "json_number.hpp"
#include "report_words.hpp"

namespace bilancetta
{

namespace
{

Json measured_json(double value, double u)
{
  return {{"value", number(value)}, {"standard_uncertainty", number(u)}};
}

Json readings_json(const Weighing& w)
{
  const Readings& r = w.readings;
  Json json = {{"dry_g", r.dry_g}};
  const auto list = [&](const char* name, const std::vector<double>& values) {
    if (!values.empty()) {
      json[name] = values;
    }
  };
  const auto single = [&](const char* name, const std::optional<double>& value) {
    if (value) {
      json[name] = *value;
    }
  };
  list("rise_g", r.rise_g);
  list("submerged_g", r.submerged_g);
  single("cup_before_g", r.cup_before_g);
  single("cup_after_g", r.cup_after_g);
  single("holder_g", r.holder_g);
  single("bottle_full_g", r.bottle_full_g);
  single("bottle_with_piece_g", r.bottle_with_piece_g);
  json["count"] = w.count;
  json["scale"] = scale_json(w.scale);
  if (w.liquid_scale) {
    json["liquid_scale"] = scale_json(*w.liquid_scale);
  }
  json["water_c"] = w.surroundings.water_c;
  json["water_c_u"] = w.surroundings.water_c_u;
  json["wetting"] = name_of(w.surroundings.wetting);
  return json;
}

Json cautions_json(const std::vector<CautionShown>& cautions)
{
  Json json = Json::array();
  for (const CautionShown& c : cautions) {
    json.push_back({{"key", c.key},
                    {"urgency", name_of(c.urgency)},
                    {"probability", c.probability >= 0 ? number(c.probability) : Json()},
                    {"why", c.why},
                    {"text", c.text},
                    {"source", c.source}});
  }
  return json;
}

Json density_json(const DensitySummary& d)
{
  return {{"value", number(d.value)},
          {"standard_uncertainty", number(d.standard_uncertainty)},
          {"low", number(d.low)},
          {"high", number(d.high)},
          {"level", d.level},
          {"bounded", d.bounded},
          {"possible", d.possible},
          {"plain", d.plain > 0 ? number(d.plain) : Json()},
          {"relative_density", d.relative_density > 0 ? number(d.relative_density) : Json()}};
}

Json fractions_json(const std::vector<FractionBand>& fractions)
{
  Json json = Json::object();
  for (const FractionBand& f : fractions) {
    json[f.constituent] = {{"best", number(f.best)}, {"low", number(f.low)}, {"high", number(f.high)}};
  }
  return json;
}

Json candidate_json(const Candidate& c)
{
  Json json = {{"material", c.material},
               {"key", c.key},
               {"build", name_of(c.build)},
               {"over", c.over.empty() ? Json() : Json(c.over)},
               {"probability", number(c.probability)},
               {"misfit", number(c.misfit)},
               {"fit", c.fit_converged ? "converged" : "not-converged"},
               {"expected_reading_g", number(c.expected_reading_g)},
               {"told_by", c.told_by.empty() ? Json() : Json(c.told_by)},
               {"fractions", fractions_json(c.fractions)}};
  json["face"] = nullptr;
  json["base_mass_g"] = nullptr;
  if (!c.over.empty()) {
    json["face"] = {{"fractions", fractions_json(c.face_fractions)},
                    {"mass_g", band_json(c.face_mass_g)},
                    {"thickness_um", c.kind == Kind::plated ? band_json(c.thickness_um) : Json()}};
    json["base_mass_g"] = band_json(c.base_mass_g);
  }
  return json;
}

Json claim_json(const ClaimVerdict& claim)
{
  Json look_alikes = Json::array();
  for (const auto& one : claim.look_alikes) {
    look_alikes.push_back({{"key", one.key},
                           {"over", one.over.empty() ? Json() : Json(one.over)},
                           {"probability", number(one.probability)}});
  }
  return {{"key", claim.claim.key},     {"verdict", name_of(claim.result)},
          {"because", claim.because},   {"tail_probability", number(claim.tail_probability)},
          {"look_alikes", look_alikes}, {"would_settle", claim.would_settle}};
}

// Those that are always told of come first.
Json bands_json(const std::map<std::string, Band>& bands)
{
  Json json = Json::object();
  for (const char* key : reported_fractions) {
    if (const auto match = bands.find(key); match != bands.end()) {
      json[key] = band_json(match->second);
    }
  }
  for (const auto& [key, band] : bands) {
    if (!json.contains(key)) {
      json[key] = band_json(band);
    }
  }
  return json;
}

Json tests_json(const Context& context)
{
  Json json = Json::object();
  for (const auto& [test, answer] : context.answers.given) {
    json[test] = answer;
  }
  json["reagent"] = context.answers.reagent;
  json["found"] = context.place;
  json["form"] = name_of(context.form);
  return json;
}

void add_explanations(const Verdict& v, Json& json)
{
  const Analysis& a = v.analysis;
  json["candidates"] = Json::array();
  for (const Candidate& c : v.candidates) {
    json["candidates"].push_back(candidate_json(c));
  }
  json["ruled_out"] = Json::array();
  for (const RuledOut& r : v.ruled_out) {
    json["ruled_out"].push_back({{"key", r.key}, {"why", r.why}});
  }
  json["remains"] = Json::array();
  for (const Remaining& r : v.remains) {
    json["remains"].push_back({{"words", r.words},
                               {"probability", number(r.probability)},
                               {"told_by", r.told_by.empty() ? Json() : Json(r.told_by)}});
  }
  for (const Build build : all_builds) {
    json["builds"][std::string(name_of(build))] = number(a.builds[static_cast<int>(build)]);
  }
  json["fractions"] = bands_json(v.fractions);
  json["precious_g"] = bands_json(v.precious_g);
}

void add_advice(const Verdict& v, Json& json)
{
  const auto money = [](const Band& band) {
    return Json{{"value", number(band.median)}, {"low", number(band.low)}, {"high", number(band.high)}};
  };
  json["worth"] = v.worth ? money(*v.worth) : Json();
  json["worth_per_hour"] = v.worth && v.prices.hours > 0.0 ? money(an_hour(v.prices, *v.worth)) : Json();
  json["open_pores"] = v.open_pores ? Json{{"share", number(v.open_pores->share)},
                                           {"share_standard_uncertainty", number(v.open_pores->share_u)},
                                           {"bulk_density", number(v.open_pores->bulk_g_cm3)},
                                           {"bulk_density_standard_uncertainty", number(v.open_pores->bulk_u_g_cm3)}}
                                    : Json();
  json["reference"] = v.reference ? Json{{"expected_reading_g", number(v.reference->expected_reading_g)},
                                         {"e_n", number(v.reference->e_n)},
                                         {"caught_mg", number(v.reference->caught_mg)},
                                         {"effect", number(v.reference->effect)},
                                         {"state", name_of(v.reference->state)}}
                                  : Json();
  json["remedy"] = v.remedy.words.empty() ? Json()
                                          : Json{{"words", v.remedy.words},
                                                 {"standard_uncertainty", number(v.remedy.standard_uncertainty)}};
  json["claim"] = v.claim ? claim_json(*v.claim) : Json();
  json["cautions"] = cautions_json(v.cautions);
  json["next"] = Json::array();
  for (const NextTest& n : v.next) {
    json["next"].push_back({{"key", n.key},
                            {"step", n.step},
                            {"bits", number(n.bits)},
                            {"helps", help_of(n)},
                            {"marks", n.marks},
                            {"caution", n.cautions.empty() ? Json() : Json(n.caution())},
                            {"cautions", n.cautions}});
  }
  json["one_thing"] = v.one_thing;
  json["pile"] = name_of(v.pile);
}

}  // namespace

std::string json_report(const Tables& tables, const Piece& piece, const Verdict& v, const ReportHeading& heading,
                        int indent)
{
  const Analysis& a = v.analysis;
  Json json = {{"version", heading.version},
               {"tables_checksum", tables.checksum},
               {"piece", piece.name},
               {"readings", readings_json(piece.weighing)},
               {"tests", tests_json(piece.context)},
               {"density", density_json(a.density)}};
  json["budget"] = Json::array();
  for (const BudgetLine& line : v.budget) {
    json["budget"].push_back({{"cause", line.cause},
                              {"standard_uncertainty", number(line.standard_uncertainty)},
                              {"share", number(line.share)}});
  }
  json["mass_g"] = measured_json(v.mass_g, v.mass_u_g);
  json["volume_cm3"] = measured_json(v.volume_cm3, v.volume_u_cm3);
  if (piece.weighing.count > 1) {
    json["each"] = {{"mass_g", number(v.mass_g / piece.weighing.count)},
                    {"volume_cm3", number(v.volume_cm3 / piece.weighing.count)}};
  }
  json["liquid_density"] = number(a.curve.liquid_g_cm3);
  json["air_density"] = number(a.curve.air_g_cm3);
  json["assumed"] = heading.assumed;
  json["warnings"] = v.warnings;
  json["explained"] = a.explained;
  json["misfit_tail_probability"] = number(a.misfit_tail);
  json["sentence"] = v.sentence;
  json["why"] = v.why;
  json["leans_on"] = {
      {"weight", number(v.leans_on_weight)}, {"tests", number(v.leans_on_tests)}, {"place", number(v.leans_on_place)}};
  if (!a.untaught.empty()) {
    json["leans_on"]["jar"] = number(v.leans_on_jar);
  }
  json["conflicts"] = v.conflicts;
  add_explanations(v, json);
  add_advice(v, json);
  return json_text(json, indent);
}

std::string json_of_mixed(const Tables& tables, const Piece& piece, const Analysis& analysis, int indent)
{
  std::vector<std::string> warnings = mixed_warnings_of(analysis, piece);
  warnings.emplace_back(unlike_pieces_cautions);
  return json_text({{"piece", piece.name},
                    {"mixed", true},
                    {"readings", readings_json(piece.weighing)},
                    {"density", density_json(analysis.density)},
                    {"explained", analysis.explained},
                    {"sentence", mixed_sentence(analysis)},
                    {"cautions", cautions_json(cautions_of(tables, analysis, piece))},
                    {"warnings", warnings}},
                   indent);
}

std::string json_error(const std::string& piece, const std::string& message)
{
  return json_text({{"piece", piece}, {"status", "error"}, {"message", message}});
}

std::string_view program_version()
{
  return BILANCETTA_VERSION;
}

}  // namespace bilancetta
