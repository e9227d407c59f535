#include "bilancetta/plan_report.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "bilancetta/reference.hpp"
#include "json_number.hpp"
#include "report_words.hpp"

namespace bilancetta
{

namespace
{

struct Pair {
  const char *words, *one, *other;
};
constexpr Pair usual_pairs[] = {{"silver/Cu", "fine-silver", "c11000"},
                                {"925/800", "sterling", "silver-800"},
                                {"925/900", "sterling", "coin-silver"},
                                {"silver/Mo", "fine-silver", "molybdenum"}};
constexpr double usual_grams[] = {0.1, 0.3, 1, 3, 10, 30};
// Never narrower than it is.
std::string plus_minus(double half_width)
{
  const double u = 0.5 * half_width;
  return half_width > 4.0 ? "over 4" : high_end(half_width, std::min(decimals_supported_by(u), 3));
}

std::string_view name_of_way(Way way)
{
  return way == Way::rise ? "rise" : way == Way::submerged ? "submerged" : "bottle";
}

std::string grams_table(const Tables& tables, const PlanQuestion& q)
{
  std::string text = "Grams weighed   +- density   Chance to tell apart\n                (silver)";
  for (const Pair& pair : usual_pairs) {
    text += fmt::format("  {:>10}", pair.words);
  }
  text += "\n";
  for (const double grams : usual_grams) {
    PlannedWeighing plan = q.weighing;
    plan.each_g = grams;
    plan.count = 1;
    const bool seen = can_be_weighed(plan, silver_g_cm3);
    const std::string known = seen ? plus_minus(expected_half_width(plan, silver_g_cm3, q.level)) : "unseen";
    text += fmt::format("{:>10} g    {:>8}", grams, known);
    for (std::size_t k = 0; seen && k < std::size(usual_pairs); ++k) {
      const auto [words, one, other] = usual_pairs[k];
      const double chance = chance_apart(tables, plan, find_material(tables, one), find_material(tables, other));
      text += fmt::format("{}{:>10}", k == 0 ? "   " : "  ", chance_words(chance));
    }
    text += "\n";
  }
  return text +
         "(50 % is a guess. Cu is copper, Mo molybdenum; 925, 900, 800 are silver. What\n"
         "weight can tell apart at all depends on how much the metals vary.)\n";
}

// Of what is claimed, else of silver.
double density_asked(const Tables& tables, const PlanQuestion& q)
{
  return q.claim && !q.claim->materials.empty()
             ? typical_density_g_cm3(tables.materials[q.claim->materials.front()], tables.constituents)
             : silver_g_cm3;
}

std::string own_pieces(const Tables& tables, const PlanQuestion& q)
{
  const PlannedWeighing& plan = q.weighing;
  const double density = density_asked(tables, q);
  const bool silver = density == silver_g_cm3;
  std::string text = fmt::format(
      "Your weighing: {} x {:g} g, {}: +- {} g/cm3 ({:.4g} %) for {}.", plan.count, plan.each_g, name_of_way(plan.way),
      plus_minus(expected_half_width(plan, density, q.level)), 100 * q.level, silver ? "silver" : q.claim->name);
  const int pool = pieces_for_one_percent(plan, density, q.level);
  text += pool == 0           ? (plan.way == Way::bottle
                                     ? "\nNo number of them that a bottle holds comes within 1 %.\n"
                                     : "\nEven 1000 of them together leave more than 1 %: a finer scale is needed.\n")
          : pool > plan.count ? fmt::format("\nWeigh about {} like pieces together for +- 1 %.\n", pool)
          : silver            ? "\nThat is within 1 %: enough for silver or copper.\n"
                              : "\nThat is within 1 %.\n";
  text += "By way:";
  for (const Way way : {Way::rise, Way::submerged, Way::bottle}) {
    PlannedWeighing other = plan;
    other.way = way;
    if (can_be_weighed(other, density)) {
      text += fmt::format("{} {} +- {}", way == Way::rise ? "" : ",", name_of_way(way),
                          plus_minus(expected_half_width(other, density, q.level)));
    }
  }
  return text + ".\n";
}

std::string picture(const TwoCurves& curves)
{
  constexpr int rows = 6;
  std::string text;
  for (int row = rows; row >= 1; --row) {
    text += "  ";
    for (std::size_t i = 0; i < curves.one.size(); ++i) {
      const bool a = curves.one[i] * rows >= row - 0.5;
      const bool b = curves.other[i] * rows >= row - 0.5;
      text += a && b ? '#' : a ? 'a' : b ? 'b' : ' ';
    }
    text.erase(text.find_last_not_of(' ') + 1);
    text += "\n";
  }
  const std::string low = fmt::format("{:.2f}", curves.low_g_cm3);
  const std::string high = fmt::format("{:.2f} g/cm3", curves.high_g_cm3);
  return text + "  " + std::string(curves.one.size(), '-') + "\n  " + low +
         std::string(curves.one.size() > low.size() + high.size() ? curves.one.size() - low.size() - high.size() : 1,
                     ' ') +
         high + "\n";
}

std::string apart_text(const Tables& tables, const PlanQuestion& q)
{
  const auto [one, other] = *q.apart;
  const Material& a = tables.materials[one];
  const Material& b = tables.materials[other];
  const double chance = chance_apart(tables, q.weighing, one, other);
  std::string text = fmt::format(
      "\na: {} ({:.2f})\nb: {} ({:.2f})\nOne such weighing tells them apart in {} of cases (50 % is a guess).\n",
      a.name, typical_density_g_cm3(a, tables.constituents), b.name, typical_density_g_cm3(b, tables.constituents),
      chance_words(chance, q.confidence));
  text += picture(two_curves(tables, q.weighing, one, other, 70));
  if (chance >= q.confidence) {
    return text;
  }
  const int pieces = pieces_needed(tables, q.weighing, one, other, q.confidence);
  const int repeats = repeats_needed(tables, q.weighing, one, other, q.confidence);
  text += pieces > 0 ? fmt::format("For {:.4g} % weigh {} like pieces together ({:g} g).\n", 100 * q.confidence, pieces,
                                   pieces * q.weighing.each_g)
                     : fmt::format("No amount of metal on this scale reaches {:.4g} %: weight alone cannot do it.\n",
                                   100 * q.confidence);
  text += repeats > 0 ? fmt::format("Or repeat each reading {} times.\n", repeats)
                      : "Repeating the readings is not enough.\n";
  return text;
}

std::string claim_text(const Tables& tables, const PlanQuestion& q)
{
  std::string text =
      "\n" +
      wrapped(fmt::format("The claim \"{}\" could be refused in such a weighing, if the piece were", q.claim->name));
  bool innocent = false;
  for (const ClaimPower& power : claim_power(tables, q.weighing, *q.claim, q.form)) {
    innocent = innocent || power.innocent;
    text += fmt::format("  {:<44} {}\n", power.opposite,
                        power.innocent
                            ? "never: " + std::string(q.form == Form::unsure ? "it may be hollow" : name_of(q.form))
                            : fmt::format("in {} of cases{}", chance_words(power.refused, power_needed),
                                          power.refused < power_needed ? "  - too few" : ""));
  }
  text += innocent ? "If it is surely solid, say --form solid.\n" : "";
  text += "It would not be refused, or in too few cases, if the piece were\n";
  for (const ClaimPower& power : claim_look_alikes(tables, q.weighing, *q.claim)) {
    text += fmt::format("  {:<44} in {} of cases\n", power.opposite, chance_words(power.refused, power_needed));
  }
  return text + "  filled or weighted to match: no weighing sees that\n";
}

std::string place_text(const Tables& tables, const PlanQuestion& q)
{
  std::string text =
      "\n" + wrapped(fmt::format(
                 "Common at this place ({}), one of each family, neighbours by density; other grades lie between:",
                 place_called(tables, q.place).key));
  for (const Neighbours& both : neighbours_at(tables, q.weighing, q.place)) {
    text += fmt::format(
        "  {} | {}: {}{}\n", tables.materials[both.lighter].name, tables.materials[both.heavier].name,
        chance_words(both.chance, q.confidence),
        both.chance < q.confidence ? fmt::format(", less than the {:.4g} % wanted", 100 * q.confidence) : "");
  }
  return text;
}

std::string advice(const PlanQuestion& q)
{
  const char* liquid = q.weighing.surroundings.liquid_density_g_cm3 ? "the liquid" : "water with a drop of soap";
  const std::string how =
      q.weighing.way == Way::bottle
          ? fmt::format("Put them into the bottle, top it up to the mark with {}", liquid)
          : fmt::format("Hang them on one thin thread, or in a light wire basket, under {}, touching nothing", liquid);
  std::string text =
      "\n" + wrapped(fmt::format("Sort first by looks and with a magnet, and weigh only like pieces together. {}, and "
                                 "shake the bubbles off.",
                                 how));
  if (q.weighing.way == Way::rise) {
    text += "A small scale may swallow a small rise by zeroing itself: keep a coin on the\npan.\n";
  }
  const double total = q.weighing.each_g * q.weighing.count;
  const double capacity = q.weighing.scale.readability_g < 0.005 ? 50.0 : 200.0;
  if (total > 0.5 * capacity) {
    text +=
        fmt::format("{:g} g with cup and water may be too heavy: many such scales end at {:g} g.\n", total, capacity);
  }
  return text;
}

}  // namespace

double least_density_asked(const Tables& tables, const PlanQuestion& q)
{
  const auto density = [&](int m) { return typical_density_g_cm3(tables.materials[m], tables.constituents); };
  return q.apart ? std::min(density(q.apart->first), density(q.apart->second)) : density_asked(tables, q);
}

std::string plan_text(const Tables& tables, const PlanQuestion& q)
{
  const Surroundings& s = q.weighing.surroundings;
  const std::string liquid =
      s.liquid_density_g_cm3 ? fmt::format("a liquid of {} g/cm3", *s.liquid_density_g_cm3) : "water";
  std::string text = fmt::format("Planned on {};\n{}, {}.\n\n", q.scale_words,
                                 q.weighing.way == Way::rise        ? "a cup of " + liquid + " on the pan"
                                 : q.weighing.way == Way::submerged ? "the piece hung in " + liquid
                                                                    : "a bottle filled to its mark with " + liquid,
                                 name_of(s.wetting));
  const bool asked = q.apart || q.claim || !q.place.empty();
  text += asked ? "" : grams_table(tables, q) + "\n";
  text += own_pieces(tables, q);
  text += q.apart ? apart_text(tables, q) : "";
  text += q.claim ? claim_text(tables, q) : "";
  text += q.place.empty() ? "" : place_text(tables, q) + hazards_text(tables, place_called(tables, q.place).key);
  return text + advice(q);
}

std::string plan_json(const Tables& tables, const PlanQuestion& q)
{
  const PlannedWeighing& plan = q.weighing;
  const double density = density_asked(tables, q);
  Json json = {{"scale", scale_json(plan.scale)},
               {"liquid_scale", plan.liquid_scale ? scale_json(*plan.liquid_scale) : Json()},
               {"way", name_of_way(plan.way)},
               {"each_g", plan.each_g},
               {"count", plan.count},
               {"repeats", plan.repeats},
               {"confidence", q.confidence},
               {"level", q.level},
               {"half_width", number(expected_half_width(plan, density, q.level))},
               {"pieces_for_one_percent", pieces_for_one_percent(plan, density, q.level)}};
  for (const Way way : {Way::rise, Way::submerged, Way::bottle}) {
    PlannedWeighing other = plan;
    other.way = way;
    json["half_width_by_way"][std::string(name_of_way(way))] =
        can_be_weighed(other, density) ? number(expected_half_width(other, density, q.level)) : Json();
  }
  json["apart"] = nullptr;
  if (q.apart) {
    const auto [one, other] = *q.apart;
    json["apart"] = {{"materials", {tables.materials[one].key, tables.materials[other].key}},
                     {"chance", number(chance_apart(tables, plan, one, other))},
                     {"pieces_needed", pieces_needed(tables, plan, one, other, q.confidence)},
                     {"repeats_needed", repeats_needed(tables, plan, one, other, q.confidence)}};
  }
  json["claim"] = nullptr;
  if (q.claim) {
    Json opposites = Json::array();
    for (const ClaimPower& power : claim_power(tables, plan, *q.claim, q.form)) {
      opposites.push_back({{"name", power.opposite}, {"refused", number(power.refused)}});
    }
    Json alike = Json::array();
    for (const ClaimPower& power : claim_look_alikes(tables, plan, *q.claim)) {
      alike.push_back({{"name", power.opposite}, {"refused", number(power.refused)}});
    }
    json["claim"] = {{"key", q.claim->key}, {"opposites", opposites}, {"look_alikes", alike}};
  }
  json["found"] = nullptr;
  if (!q.place.empty()) {
    const Place& place = place_called(tables, q.place);
    Json neighbours = Json::array();
    for (const Neighbours& both : neighbours_at(tables, plan, place.key)) {
      neighbours.push_back({{"materials", {tables.materials[both.lighter].key, tables.materials[both.heavier].key}},
                            {"chance", number(both.chance)}});
    }
    json["found"] = {{"place", place.key}, {"neighbours", neighbours}, {"hazards", place.hazards}};
  }
  return json_text(json, 1);
}

}  // namespace bilancetta
