#include "bilancetta/bench_test.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "bilancetta/error.hpp"

namespace bilancetta {

namespace {

struct Facts {
  bool notch_through, reagent_works, skin_clean;
};

double lookup(const std::map<std::string, double>& table, const std::string& answer, double otherwise)
{
  const auto match = table.find(answer);
  return match == table.end() ? otherwise : match->second;
}

double lookup(const BenchTest& test, const AnswerTable& table, const std::string& word, const std::string& answer)
{
  const double flat = 1.0 / static_cast<double>(std::max<std::size_t>(test.answers.size(), 1));
  const auto row = table.find(word);
  return row == table.end() ? flat : lookup(row->second, answer, flat);
}

// The material whose surface a test at this site touches.
const Material& material_at(const Tables& tables, const Hypothesis& h, const std::string& site, const Facts& facts)
{
  const bool layered = h.inner_material >= 0;
  const bool inner = layered && ((site == "back" && h.kind == Kind::inlay) || (site == "notch" && h.kind == Kind::plated && facts.notch_through) ||
                                 (site == "piece" && h.kind == Kind::plated && facts.notch_through));
  return tables.materials[inner ? h.inner_material : h.outer_material];
}

std::string word_of(const Material& material, const std::string& property)
{
  const auto match = material.words.find(property);
  return match == material.words.end() ? "varies" : match->second;
}

// A magnet feels the whole piece: the strongest part wins.
std::string magnet_word(const Tables& tables, const Hypothesis& h)
{
  constexpr const char* order[] = {"strong", "weak", "varies", "no-pull"};
  std::string words[2] = {word_of(tables.materials[h.outer_material], "magnet"), "no-pull"};
  if (h.inner_material >= 0) {
    words[1] = word_of(tables.materials[h.inner_material], "magnet");
  }
  for (const char* word : order) {
    if (words[0] == word || words[1] == word) {
      return word;
    }
  }
  return "varies";
}

double conductivity_density(const Tables& tables, const BenchTest& test, const Hypothesis& h, double reading)
{
  const Range& outer = tables.materials[h.outer_material].conductivity_iacs;
  const Range& inner = h.inner_material >= 0 ? tables.materials[h.inner_material].conductivity_iacs : outer;
  if (outer.typical <= 0.0 || inner.typical <= 0.0) {
    return 0.25;  // unknown: flat over about e^4 in the reading
  }
  // A probe sees through a coat to the core; in an inlay something between face and carrier.
  const double low = h.kind == Kind::plated ? inner.low : std::min(outer.low, inner.low);
  const double high = h.kind == Kind::plated ? inner.high : std::max(outer.high, inner.high);
  const double centre = std::sqrt(std::max(low, 0.1) * high);
  const double sd = std::hypot(std::max(test.relative_sd, 0.05), std::log(high / std::max(low, 0.1)) / 4.0);
  const double distance = std::log(reading / centre) / sd;
  return 0.02 + 0.98 * std::exp(-0.5 * distance * distance) / (sd * std::sqrt(2.0 * M_PI));
}

double answer_probability(const Tables& tables, const Answers& answers, const Hypothesis& h, const BenchTest& test,
                          const std::string& answer, const Facts& facts)
{
  if (h.kind == Kind::open_mix) {
    return test.answers.empty() ? 0.25 : 1.0 / static_cast<double>(test.answers.size());
  }
  if (test.answers.empty()) {
    return conductivity_density(tables, test, h, std::stod(answer));
  }
  if (test.property == "build") {
    return lookup(test, test.likelihood, std::string(name_of(h.build)), answer);
  }
  if (test.property == "magnet") {
    return lookup(test, test.likelihood, magnet_word(tables, h), answer);
  }
  const double flat = 1.0 / static_cast<double>(test.answers.size());
  const Material& material = material_at(tables, h, test.site, facts);
  const bool surface = test.site == "skin" || test.site == "back";
  if (test.property == "chromate") {
    if (answers.reagent == "other") {
      return flat;
    }
    if (!facts.reagent_works) {
      return lookup(tables.facts.dead_reagent, answer, flat);
    }
    if (surface && !facts.skin_clean) {
      return lookup(tables.facts.dirty_skin_reagent, answer, flat);
    }
    const bool nitric = answers.reagent == "nitric";
    return lookup(test, nitric ? test.likelihood_nitric : test.likelihood, word_of(material, nitric ? "nitric" : "chromate"), answer);
  }
  if (surface && !facts.skin_clean && test.property == "skin") {
    return lookup(tables.facts.dirty_skin_colour, answer, flat);
  }
  return lookup(test, test.likelihood, word_of(material, test.property), answer);
}

}  // namespace

void add_answer(const Tables& tables, Answers& answers, const std::string& name, const std::string& answer)
{
  const BenchTest& test = test_called(tables, name);
  if (answer.empty() || answer == "untested") {
    return;
  }
  for (const auto& [given, old] : answers.given) {
    if (given == test.key) {
      throw Error(ErrorCode::bad_option, fmt::format("answered twice ({} and {}); give it once", old, answer), {.field = test.key});
    }
  }
  if (test.answers.empty()) {
    double value = 0.0;
    const auto [end, trouble] = std::from_chars(answer.data(), answer.data() + answer.size(), value);
    if (trouble != std::errc() || end != answer.data() + answer.size() || !(value >= 0.1 && value <= 110.0)) {
      throw Error(ErrorCode::bad_option, fmt::format("\"{}\" is not a conductivity from 0.1 to 110 %IACS", answer), {.field = test.key});
    }
    answers.given.emplace_back(test.key, answer);
    return;
  }
  const auto known = [&](const std::string& word) { return std::find(test.answers.begin(), test.answers.end(), word) != test.answers.end(); };
  std::string word = answer;
  std::replace(word.begin(), word.end(), '_', '-');
  std::replace(word.begin(), word.end(), ' ', '-');
  if (word == "none" && !known("none")) {
    word = known("no-pull") ? "no-pull" : "no-reaction";
  }
  if (word == "red" && !known("red")) {
    word = "copper";
  }
  if (!known(word)) {
    std::string list;
    for (const std::string& one : test.answers) {
      list += (list.empty() ? "" : ", ") + one;
    }
    throw Error(ErrorCode::unknown_key, fmt::format("\"{}\" is not one of its answers: {}", answer, list), {.field = test.key});
  }
  answers.given.emplace_back(test.key, word);
}

double likelihood_of(const Tables& tables, const Answers& answers, const Hypothesis& hypothesis)
{
  if (answers.given.empty()) {
    return 1.0;
  }
  std::vector<const BenchTest*> tests;
  for (const auto& [key, answer] : answers.given) {
    tests.push_back(&*std::find_if(tables.tests.begin(), tables.tests.end(), [&, &name = key](const BenchTest& t) { return t.key == name; }));
  }
  const double works = answers.reagent_checked ? tables.facts.reagent_works_if_checked : tables.facts.reagent_works;
  double total = 0.0;
  for (int which = 0; which < 8; ++which) {
    const Facts facts{(which & 1) == 0, (which & 2) == 0, (which & 4) == 0};
    double p = (facts.notch_through ? tables.facts.notch_through_coat : 1.0 - tables.facts.notch_through_coat) *
               (facts.reagent_works ? works : 1.0 - works) *
               (facts.skin_clean ? tables.facts.skin_clean : 1.0 - tables.facts.skin_clean);
    for (std::size_t i = 0; i < tests.size(); ++i) {
      p *= answer_probability(tables, answers, hypothesis, *tests[i], answers.given[i].second, facts);
    }
    total += p;
  }
  return total;
}

std::vector<std::string> possible_answers(const BenchTest& test)
{
  return test.answers.empty() ? std::vector<std::string>{"2", "5", "12", "25", "45", "60", "80", "100"} : test.answers;
}

}  // namespace bilancetta
