#include "bilancetta/jar_report.hpp"
#include "hypothesis_words.hpp"
#include "jar_report_words.hpp"
#include "json_number.hpp"
#include "report_words.hpp"
#include "sentence.hpp"

namespace bilancetta
{

namespace
{

Json total_json(const TotalBand& total)
{
  Json json = band_json(total);
  json["mean"] = number(total.mean);
  return json;
}

void add_worth(Json& json, const JarSummary& s)
{
  json["worth"] = s.worth ? total_json(*s.worth) : Json();
  json["worth_per_hour"] = s.worth && s.prices.hours > 0 ? band_json(an_hour(s.prices, *s.worth)) : Json();
  json["metal_price"] = s.worth ? number(s.metal_price) : Json();
  json["unpriced"] = Json::array();
  for (const int m : s.unpriced) {
    json["unpriced"].push_back(precious_metals[m]);
  }
  const LeftOut out = left_out_of(s);
  json["left_out"] = {{"pieces", out.pieces}, {"mass_g", number(out.mass_g)}};
  json["bargain"] = nullptr;
  if (tells_bargain(s)) {
    json["bargain"] = {{"even_at", number(s.worth->median)}, {"safe_below", number(s.worth->low)}};
  }
}

Json lots_json(const Tables& tables, const Members& members, const std::vector<LotTotal>& lots)
{
  Json json = Json::array();
  for (const LotTotal& lot : lots) {
    json.push_back(
        {{"lot", lot.lot},
         {"rows", lot.rows},
         {"pieces", lot.pieces},
         {"mass_g", number(lot.mass_g)},
         {"silver_g", total_json(lot.silver_g)},
         {"material", hypothesis_words(tables, members[lot.best]->hypothesis)},
         {"probability", number(lot.probability)},
         {"partly_cadmium_suspect", lot.partly_suspect},
         {"unlike_density",
          lot.unlike ? Json({{"low", number(lot.unlike->first)}, {"high", number(lot.unlike->second)}}) : Json()}});
  }
  return json;
}

}  // namespace

std::string jar_summary_json(const Tables& tables, const Members& members, const JarSummary& s, int indent)
{
  Json json = {{"rows", s.rows},
               {"unusable_rows", s.unusable},
               {"known_rows", s.known_rows},
               {"known_unfit_rows", s.known_unfit_rows},
               {"repeat_rows", s.repeat_rows},
               {"pieces", s.pieces},
               {"mass_g", number(s.mass_g)},
               {"level", s.level},
               {"kinds", s.kinds},
               {"unfitting_pieces", s.unfitting},
               {"hollow_pieces", s.hollow},
               {"hollow_g", number(s.hollow_g)},
               {"unexplained_pieces", s.unexplained},
               {"unexplained_g", number(s.unexplained_g)}};
  json["precious_g"] = Json::object();
  json["precious_g_independent"] = Json::object();
  for (const MetalTotal& total : s.metals) {
    json["precious_g"][total.metal] = total_json(total.alike_g);
    json["precious_g_independent"][total.metal] = total_json(total.independent_g);
  }
  json["sitting_u_g"] = number(s.sitting_u_g);
  json["mixed"] = nullptr;
  if (s.mixed_rows > 0) {
    json["mixed"] = {{"pieces", s.mixed_pieces}, {"mass_g", number(s.mixed_g)}, {"precious_g", Json::object()}};
    for (std::size_t m = 0; m < precious_metals.size(); ++m) {
      json["mixed"]["precious_g"][precious_metals[m]] = {{"low", number(s.mixed_bounds_g[m].first)},
                                                         {"high", number(s.mixed_bounds_g[m].second)}};
    }
  }
  add_worth(json, s);
  json["piles"] = Json::array();
  for (const PileTotal& p : s.piles) {
    json["piles"].push_back(
        {{"pile", p.pile}, {"pieces", p.pieces}, {"mass_g", number(p.mass_g)}, {"silver_g", total_json(p.silver_g)}});
  }
  json["lots"] = lots_json(tables, members, s.lots);
  json["cautions"] = Json::array();
  for (const JarCaution& c : cautions_in(tables, s)) {
    json["cautions"].push_back({{"key", c.caution->key},
                                {"urgency", name_of(c.urgency)},
                                {"pieces", c.pieces > 0 ? Json(c.pieces) : Json()},
                                {"why", c.why},
                                {"text", c.caution->text}});
  }
  const std::optional<JarStep> step = step_in(tables, s);
  json["undecided"] = {{"pieces", s.undecided},
                       {"next", s.next.empty() ? Json() : Json(s.next)},
                       {"next_pieces", s.next_pieces},
                       {"step", step ? Json(step->words) : Json()},
                       {"cautions", Json::array()}};
  if (step) {
    json["undecided"]["cautions"] = cautions_of_step(*step->test, s.next_reagent, step->may_hold_cadmium);
  }
  return json_text(json, indent);
}

}  // namespace bilancetta
