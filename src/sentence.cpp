#include "sentence.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

namespace bilancetta
{

namespace
{

// "silver-copper" reads better as an alloy; a metal's own name needs nothing.
std::string family_words(const std::string& group)
{
  static const std::map<std::string, std::string> words = {
      {"silver", "fine silver"},
      {"silver-copper", "silver-copper alloy (such as sterling)"},
      {"nickel-silver", "nickel silver"},
      {"stainless-steel", "stainless steel"},
      {"iron-nickel", "iron-nickel alloy"},
      {"tin-lead", "tin-lead solder"},
      {"silver-cadmium-oxide", "silver-cadmium oxide"},
      {"silver-tin-oxide", "silver-tin oxide"},
      {"silver-zinc-oxide", "silver-zinc oxide"},
      {"silver-tungsten-carbide", "silver-tungsten carbide"},
      {"silver-braze", "silver brazing alloy"},
      {"copper-phosphorus-braze", "copper-phosphorus brazing alloy"},
      {"beryllium-copper", "beryllium copper"},
      {"aluminium-bronze", "aluminium bronze"},
      {"tungsten-heavy-alloy", "tungsten heavy alloy"},
      {"metal-graphite", "metal-graphite"},
      {"zinc", "zinc alloy"},
      {"aluminium", "aluminium alloy"},
      {"gold", "gold alloy"}};
  const auto match = words.find(group);
  return match == words.end() ? group : match->second;
}

std::string explanation_words(const Tables& tables, const Hypothesis& h)
{
  if (h.kind == Kind::open_mix) {
    return "some other mix of silver, copper, tungsten, cadmium oxide and nickel";
  }
  const std::string outer = family_words(tables.materials[h.outer_material].group);
  switch (h.kind) {
    case Kind::plated:
      return fmt::format("{} plate on {}", outer, family_words(tables.materials[h.inner_material].group));
    case Kind::inlay:
      return fmt::format("{} face on a {} base", outer, family_words(tables.materials[h.inner_material].group));
    case Kind::hollow:
      return fmt::format("hollow or filled {}", outer);
    default:
      return fmt::format("solid {}", outer);
  }
}

std::string capitalised(std::string text)
{
  if (!text.empty()) {
    text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  }
  return text;
}

std::string percent(double probability)
{
  return probability < 0.01   ? "under 1 %"
         : probability > 0.99 ? "over 99 %"
                              : fmt::format("{:.0f} %", 100 * probability);
}

std::string opening(const Verdict& v, const std::vector<Explanation>& all)
{
  const DensitySummary& d = v.analysis.density;
  if (!d.possible) {
    return "No metal gives such readings: check the tare, and that the dry weight and the reading in water are each in "
           "their place.";
  }
  if (!d.bounded) {
    return fmt::format(
        "Too small for this scale to name: all it says is heavier than {:.1f} g/cm3, which fits {} among much else.",
        d.low, all.empty() ? "many metals" : all.front().words);
  }
  if (v.background.hollow) {
    return fmt::format(
        "Hollow or filled ware cannot be judged by its weight: the whole piece has {:.3g} g/cm3, and that says little "
        "about "
        "its metal.",
        d.value);
  }
  if (!v.analysis.explained || all.empty()) {
    return fmt::format(
        "Nothing in the tables explains a density of {:.4g} g/cm3: think of a hollow or a clinging bubble, unlike "
        "pieces weighed "
        "together, a wrong tare, or a material that is not in the tables.",
        d.value);
  }
  const Explanation& best = all.front();
  const auto also = [&](std::size_t from, const char* link) {
    std::string text;
    for (std::size_t k = from; k < std::min<std::size_t>(all.size(), from + 2) && all[k].probability >= 0.02; ++k) {
      text += fmt::format("{}{} ({})", text.empty() ? "" : link, all[k].words, percent(all[k].probability));
    }
    return text;
  };
  if (best.probability >= 0.45) {
    const std::string rest = also(1, " or ");
    return fmt::format("{}, {} ({}){}.", capitalised(best.words), sureness(best.probability), percent(best.probability),
                       rest.empty() ? "" : fmt::format("; it could also be {}", rest));
  }
  if (best.probability < 0.2) {
    const int n = decimals_supported_by(d.standard_uncertainty);
    return fmt::format("Many metals lie between {:.{}f} and {:.{}f} g/cm3; the likeliest are {} ({}), {}.", d.low, n,
                       d.high, n, best.words, percent(best.probability), also(1, " and "));
  }
  return fmt::format("Not settled: {} ({}) leads; {} follow.", best.words, percent(best.probability), also(1, " and "));
}

std::string layers_words(const Verdict& v)
{
  const Candidate& c = v.candidates.front();
  const auto grams = [](double g) {
    return g < 0.0995 ? fmt::format("{:.2g} mg", 1000 * g) : fmt::format("{:.2g} g", g);
  };
  if (c.kind == Kind::plated) {
    return fmt::format(
        "If it is {} on {}, the coat is about {:.2g} micrometres thick ({:.2g} to {:.2g}) and weighs {} ({} to {}).",
        c.material, c.over_name, c.thickness_um.median, c.thickness_um.low, c.thickness_um.high,
        grams(c.face_mass_g.median), grams(c.face_mass_g.low), grams(c.face_mass_g.high));
  }
  if (c.kind == Kind::inlay) {
    return fmt::format("If it is {} on {}, the face weighs {} ({} to {}) and the base {} ({} to {}).", c.material,
                       c.over_name, grams(c.face_mass_g.median), grams(c.face_mass_g.low), grams(c.face_mass_g.high),
                       grams(c.base_mass_g.median), grams(c.base_mass_g.low), grams(c.base_mass_g.high));
  }
  return {};
}

// What the likeliest candidate of another family would have read.
std::string runner_up_words(const Piece& piece, const Verdict& v)
{
  if (v.candidates.empty() || !v.analysis.density.bounded) {
    return {};
  }
  const Candidate& best = v.candidates.front();
  for (const Candidate& c : v.candidates) {
    const bool rival = c.kind != Kind::open_mix && (c.group != best.group || c.build != best.build);
    if (rival) {
      const int decimals = decimals_shown(liquid_scale_of(piece.weighing));
      const std::string expected = fmt::format("{:.{}f}", c.expected_reading_g, decimals);
      const std::string read = fmt::format("{:.{}f}", reading_in_liquid_g(piece.weighing.readings), decimals);
      return fmt::format("A typical {}{} would have read {}, yours read {}{}.", c.material,
                         c.over_name.empty() ? "" : (c.kind == Kind::plated ? " plate on " : " face on ") + c.over_name,
                         expected, read, expected == read ? ": the weight cannot choose between it and the first" : "");
    }
  }
  return {};
}

// What to type once a test is made.
std::string how_to_give(const Tables& tables, const std::string& key)
{
  const BenchTest& test = test_called(tables, key);
  std::string answers;
  for (const std::string& answer : test.answers) {
    answers += (answers.empty() ? "" : answer == test.answers.back() ? " or " : ", ") + answer;
  }
  return test.answers.size() > 5 ? "" : fmt::format(" Then add --test {}={}.", key, answers.empty() ? "NUMBER" : answers);
}

// The care that belongs to the step, unless it is said already because a drop was used.
std::string cautions_of_step(const Tables& tables, const Piece& piece, const NextTest& step)
{
  std::string text;
  if (step.is_weighing) {
    return text;
  }
  for (const std::string& key : cautions_of_test(test_called(tables, step.key), piece.context.answers.reagent)) {
    const auto caution = std::find_if(tables.cautions.begin(), tables.cautions.end(),
                                      [&](const Caution& one) { return one.key == key; });
    text += caution == tables.cautions.end() ? "" : " Care: " + caution->text;
  }
  return text;
}

std::string to_do(const Tables& tables, const Piece& piece, const Verdict& v)
{
  const int pool = pieces_to_pool(v.analysis, piece.weighing);
  if (!v.analysis.density.possible) {
    return "Tare the scale with the empty thread or cup in place, and weigh again.";
  }
  if (v.background.hollow) {
    return "Look for the maker's and fineness marks, and test the metal itself at a place where it is thick.";
  }
  if (!v.analysis.explained) {
    return "Weigh it once more, with a drop of soap and no bubbles on it, and check the tare; then test its colour in "
           "a notch.";
  }
  if (pool > piece.weighing.count &&
      (!v.analysis.density.bounded || v.analysis.density.standard_uncertainty > 0.05 * v.analysis.density.value)) {
    return fmt::format("Weigh about {} like pieces together (--count {}): this scale is too coarse for {}.", pool, pool,
                       piece.weighing.count == 1 ? "one" : "so few");
  }
  if (v.next.empty() || v.next.front().bits < 0.02) {
    return v.claim && v.claim->result != ClaimResult::consistent
               ? "What would settle it: " + v.claim->would_settle + "."
               : "No test at the bench would change this much; an assay would.";
  }
  const NextTest& best = v.next.front();
  const std::string_view help = help_of(best);
  return fmt::format("{}{} ({}.){}", best.step, best.is_weighing ? "" : how_to_give(tables, best.key),
                     help == "settles it"         ? "It should settle the question"
                     : help == "halves the doubt" ? "It should halve the doubt"
                                                  : "It helps a little",
                     cautions_of_step(tables, piece, best));
}

}  // namespace

std::string_view sureness(double probability)
{
  return probability >= 0.97   ? "almost certainly"
         : probability >= 0.85 ? "very likely"
         : probability >= 0.65 ? "fairly sure"
                               : "more likely than not";
}

std::vector<Explanation> explanations_of(const Tables& tables, const Analysis& analysis)
{
  std::map<std::string, double> shares;
  for (const int i : plausible_members(analysis)) {
    shares[explanation_words(tables, (*analysis.members)[i]->hypothesis)] += analysis.posterior[i];
  }
  std::vector<Explanation> all;
  all.reserve(shares.size());
  for (const auto& [words, probability] : shares) {
    all.push_back({words, probability});
  }
  std::stable_sort(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.probability > b.probability; });
  return all;
}

void add_sentences(const Tables& tables, const Piece& piece, Verdict& v)
{
  const std::vector<Explanation> all = explanations_of(tables, v.analysis);
  v.sentence = opening(v, all);
  if (!v.analysis.density.possible || v.background.hollow) {
    v.one_thing = to_do(tables, piece, v);
    v.why.clear();
    return;
  }
  std::vector<std::string> why;
  const std::pair<double, const char*> parts[] = {{v.leans_on_weight, "its weight in air and liquid"},
                                                  {v.leans_on_tests, "the tests you made"},
                                                  {v.leans_on_place, "where it was found and what is common there"}};
  const auto* most = std::max_element(std::begin(parts), std::end(parts));
  why.push_back(fmt::format("Whether it is solid, plated or inlaid is judged mostly by {}.", most->second));
  if (!v.candidates.empty() && v.analysis.density.bounded) {
    const std::string layers = layers_words(v);
    if (!layers.empty()) {
      why.push_back(layers);
    }
  }
  const std::string rival = runner_up_words(piece, v);
  if (!rival.empty()) {
    why.push_back(rival);
  }
  v.why.insert(v.why.begin(), why.begin(), why.end());
  v.one_thing = to_do(tables, piece, v);
}

}  // namespace bilancetta
