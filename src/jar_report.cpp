#include "bilancetta/jar_report.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "json_number.hpp"
#include "report_words.hpp"

namespace bilancetta
{

namespace
{

constexpr std::array<const char*, 4> metal_names = {"silver", "gold", "palladium", "platinum"};
constexpr double troy_ounce_g = 31.1034768;

std::string pieces(long n)
{
  return n == 1 ? "1 piece" : fmt::format("{} pieces", n);
}

std::string rows(long n)
{
  return n == 1 ? "1 row" : fmt::format("{} rows", n);
}

std::string hypothesis_words(const Tables& tables, const Member& member)
{
  const Hypothesis& h = member.hypothesis;
  if (h.kind == Kind::open_mix) {
    return "some other mix";
  }
  const std::string outer = tables.materials[h.outer_material].name;
  if (h.inner_material < 0) {
    return (h.kind == Kind::hollow ? "hollow " : "") + outer;
  }
  const char* how = h.kind == Kind::plated ? " plated on " : h.kind == Kind::inlay ? " as a face on " : " joined to ";
  return outer + how + tables.materials[h.inner_material].name;
}

std::string counts_words(const JarSummary& s)
{
  std::string text =
      fmt::format("The jar has {} in {}, {} g.", pieces(s.pieces),
                  rows(s.rows - s.unusable - s.mixed_rows - s.known_rows - s.repeat_rows), rounded(s.mass_g));
  text += s.unusable > 0 ? fmt::format(" {} more could not be used.", rows(s.unusable)) : "";
  text +=
      s.known_rows > 0 ? fmt::format(" Pieces of known density or mass are not counted ({}).", rows(s.known_rows)) : "";
  text += s.repeat_rows > 0 ? fmt::format(" A piece weighed again counts once ({} more).", rows(s.repeat_rows)) : "";
  if (s.unfitting > 0) {
    text += fmt::format(" Nothing at all fits {} ({} g), and no metal of them is counted.", pieces(s.unfitting),
                        rounded(s.unfitting_g));
  }
  if (s.unexplained > 0) {
    text +=
        fmt::format(" Nothing in the tables explains {}: what is counted of them is a guess.", pieces(s.unexplained));
  }
  return text;
}

std::string metals_words(const JarSummary& s)
{
  std::string text;
  for (std::size_t m = 0; m < s.metals.size(); ++m) {
    const Band& alike = s.metals[m].alike_g;
    const Band& apart = s.metals[m].independent_g;
    if (m > 0 && alike.high < 0.001) {
      continue;
    }
    const std::string ounces =
        alike.high < troy_ounce_g
            ? ""
            : fmt::format(" ({:.2f} to {:.2f} troy ounces)", alike.low / troy_ounce_g, alike.high / troy_ounce_g);
    text +=
        wrapped(fmt::format("It holds {} to {} g of {}{}, most likely near {} g. Were every piece a case of its own, "
                            "it would be {} to {} g.",
                            rounded(alike.low), rounded(alike.high), metal_names[m], ounces, rounded(alike.median),
                            rounded(apart.low), rounded(apart.high)));
  }
  if (!s.metals.empty()) {
    text += wrapped(
        "The first range takes pieces that weigh alike as one kind, so that one mistake about them is a mistake about "
        "all: rely on that one. Name what belongs together in the column lot, and test one piece of each lot.");
  }
  if (s.sitting_u_g > 0) {
    text += wrapped(
        fmt::format("What all weighings of the sitting share makes {} g of its uncertainty.", rounded(s.sitting_u_g)));
  }
  return text;
}

std::string mixed_words(const JarSummary& s)
{
  if (s.mixed_rows == 0) {
    return "";
  }
  const auto& [least, most] = s.mixed_bounds_g[0];
  return "\n" +
         wrapped(fmt::format(
             "Unlike pieces weighed together, {} with {} g, are not in these totals. By their mean weight alone "
             "they may hold from {} to {} g of silver: different metals mixed can weigh what silver weighs. Sort "
             "them and weigh like with like.",
             pieces(s.mixed_pieces), rounded(s.mixed_g), rounded(least), rounded(most)));
}

// Metals that may be there and have no price: what the jar is worth cannot be said without them.
std::string not_counted(const JarSummary& s)
{
  std::string metals;
  std::string prices;
  for (const int m : s.unpriced) {
    const Band& g = s.metals[m].alike_g;
    metals += fmt::format("{}{} ({} to {} g)", metals.empty() ? "" : " and ", metal_names[m], rounded(g.low),
                          rounded(g.high));
    prices += fmt::format(" --price {}=P/g", jar_metals[m]);
  }
  return fmt::format(" That leaves out {}, for want of a price: add{} to learn what the jar is worth.", metals, prices);
}

std::string worth_words(const JarSummary& s)
{
  if (!s.worth) {
    return "";
  }
  std::string text = fmt::format("At these prices a buyer would pay {} to {}, most likely near {}.",
                                 rounded(s.worth->low), rounded(s.worth->high), rounded(s.worth->median));
  if (s.hours > 0) {
    text += fmt::format(" For {:g} hours of work that is {} to {} an hour, before what the jar itself cost you.",
                        s.hours, rounded(s.worth->low / s.hours), rounded(s.worth->high / s.hours));
  }
  if (!s.unpriced.empty()) {
    return "\n" + wrapped(text + not_counted(s));
  }
  text += fmt::format(
      " To buy the same metal outright would cost near {}: the jar was worth buying if its price, the refining "
      "and your time together stay below {}, and a safe bargain only below {}.",
      rounded(s.metal_price), rounded(s.worth->median), rounded(s.worth->low));
  return "\n" + wrapped(text);
}

std::string piles_words(const JarSummary& s)
{
  std::string text = s.piles.empty() ? "" : "\nPile                 pieces    mass, g   silver, g\n";
  for (const PileTotal& p : s.piles) {
    text += fmt::format("{:<18} {:>8}  {:>9}   {} to {}\n", p.pile, p.pieces, rounded(p.mass_g),
                        rounded(p.silver_g.low), rounded(p.silver_g.high));
  }
  return text;
}

std::string lots_words(const Tables& tables, const Members& members, const JarSummary& s)
{
  std::string text;
  for (const LotTotal& lot : s.lots) {
    text += wrapped(fmt::format("Lot {}: {}, {} g, {} to {} g of silver; most likely {} ({:.0f} %).", lot.lot,
                                pieces(lot.pieces), rounded(lot.mass_g), rounded(lot.silver_g.low),
                                rounded(lot.silver_g.high), hypothesis_words(tables, *members[lot.best]),
                                100 * lot.probability));
  }
  return text.empty() ? "" : "\n" + text;
}

/// A caution of the jar, why it is shown, and for how many pieces; 0 if it belongs to a place or a drop.
struct JarCaution {
  const Caution* caution;
  std::string urgency, why;
  long pieces;
};

std::vector<JarCaution> cautions_of(const Tables& tables, const JarSummary& s)
{
  std::vector<JarCaution> all;
  for (const char* urgency : {"stop", "care", "note"}) {
    for (std::size_t k = 0; k < tables.cautions.size(); ++k) {
      const Caution& c = tables.cautions[k];
      const auto counted = s.cautions.find(static_cast<int>(k));
      const bool of_place = std::any_of(tables.places.begin(), tables.places.end(), [&](const Place& place) {
        return std::find(place.hazards.begin(), place.hazards.end(), c.key) != place.hazards.end();
      });
      if (counted != s.cautions.end() && c.urgency == urgency) {
        all.push_back({&c, c.urgency, pieces(counted->second), counted->second});
      } else if (counted == s.cautions.end() && (s.of_place >> k & 1U) != 0 &&
                 (of_place ? std::string("note") : c.urgency) == urgency) {
        all.push_back(
            {&c, urgency, of_place ? "old pieces from such places may come with it" : "a test drop was used", 0});
      }
    }
  }
  return all;
}

std::string cautions_words(const Tables& tables, const JarSummary& s)
{
  std::string text;
  for (const JarCaution& c : cautions_of(tables, s)) {
    const char* word = c.urgency == "stop" ? "STOP" : c.urgency == "care" ? "Care" : "Note";
    text += wrapped(fmt::format("{} {} ({}): {}", word, c.caution->key, c.why, c.caution->text));
  }
  return text.empty() ? "" : "\n" + text;
}

std::string next_words(const Tables& tables, const JarSummary& s)
{
  if (s.next.empty()) {
    return "";
  }
  std::string step = "weigh several like ones together, for they are small for this scale";
  for (const BenchTest& test : tables.tests) {
    step = test.key == s.next ? test.step : step;
  }
  return "\n" + wrapped(fmt::format("{} {} undecided. One thing would settle most, {}: {}{}", pieces(s.undecided),
                                    s.undecided == 1 ? "is" : "are", pieces(s.next_pieces), step,
                                    step.ends_with('.') || step.ends_with('?') ? "" : "."));
}

void add_worth(Json& json, const JarSummary& s)
{
  json["worth"] = s.worth ? band_json(*s.worth) : Json();
  json["worth_per_hour"] =
      s.worth && s.hours > 0
          ? band_json(Band{s.worth->median / s.hours, s.worth->low / s.hours, s.worth->high / s.hours})
          : Json();
  json["metal_price"] = s.worth ? number(s.metal_price) : Json();
  json["unpriced"] = Json::array();
  for (const int m : s.unpriced) {
    json["unpriced"].push_back(jar_metals[m]);
  }
}

}  // namespace

std::string jar_summary_text(const Tables& tables, const Members& members, const JarSummary& summary)
{
  return wrapped(counts_words(summary)) + "\n" + metals_words(summary) + mixed_words(summary) + worth_words(summary) +
         piles_words(summary) + lots_words(tables, members, summary) + cautions_words(tables, summary) +
         next_words(tables, summary);
}

std::string jar_summary_json(const Tables& tables, const Members& members, const JarSummary& s, int indent)
{
  Json json = {{"rows", s.rows},
               {"unusable_rows", s.unusable},
               {"known_rows", s.known_rows},
               {"repeat_rows", s.repeat_rows},
               {"pieces", s.pieces},
               {"mass_g", number(s.mass_g)},
               {"level", s.level},
               {"kinds", s.kinds},
               {"unfitting_pieces", s.unfitting},
               {"unexplained_pieces", s.unexplained}};
  json["precious_g"] = Json::object();
  json["precious_g_independent"] = Json::object();
  for (const MetalTotal& total : s.metals) {
    json["precious_g"][total.metal] = band_json(total.alike_g);
    json["precious_g_independent"][total.metal] = band_json(total.independent_g);
  }
  json["sitting_u_g"] = number(s.sitting_u_g);
  json["mixed"] = nullptr;
  if (s.mixed_rows > 0) {
    json["mixed"] = {{"pieces", s.mixed_pieces}, {"mass_g", number(s.mixed_g)}, {"precious_g", Json::object()}};
    for (std::size_t m = 0; m < jar_metals.size(); ++m) {
      json["mixed"]["precious_g"][jar_metals[m]] = {{"low", number(s.mixed_bounds_g[m].first)},
                                                    {"high", number(s.mixed_bounds_g[m].second)}};
    }
  }
  add_worth(json, s);
  json["piles"] = Json::array();
  for (const PileTotal& p : s.piles) {
    json["piles"].push_back(
        {{"pile", p.pile}, {"pieces", p.pieces}, {"mass_g", number(p.mass_g)}, {"silver_g", band_json(p.silver_g)}});
  }
  json["lots"] = Json::array();
  for (const LotTotal& lot : s.lots) {
    json["lots"].push_back({{"lot", lot.lot},
                            {"rows", lot.rows},
                            {"pieces", lot.pieces},
                            {"mass_g", number(lot.mass_g)},
                            {"silver_g", band_json(lot.silver_g)},
                            {"material", hypothesis_words(tables, *members[lot.best])},
                            {"probability", number(lot.probability)}});
  }
  json["cautions"] = Json::array();
  for (const JarCaution& c : cautions_of(tables, s)) {
    json["cautions"].push_back({{"key", c.caution->key},
                                {"urgency", c.urgency},
                                {"pieces", c.pieces > 0 ? Json(c.pieces) : Json()},
                                {"why", c.why},
                                {"text", c.caution->text}});
  }
  json["undecided"] = {
      {"pieces", s.undecided}, {"next", s.next.empty() ? Json() : Json(s.next)}, {"next_pieces", s.next_pieces}};
  return json.dump(indent);
}

}  // namespace bilancetta
