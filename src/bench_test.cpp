#include "bilancetta/bench_test.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "bilancetta/error.hpp"
#include "bilancetta/spelling.hpp"
#include "conductivity.hpp"

namespace bilancetta
{

namespace
{

double lookup(const std::map<std::string, double>& table, const std::string& answer, double otherwise)
{
  const auto match = table.find(answer);
  return match == table.end() ? otherwise : match->second;
}

std::string word_of(const Material& material, const std::string& property)
{
  const auto match = material.words.find(property);
  return match == material.words.end() ? "varies" : match->second;
}

// The stronger of two magnetic words wins: a magnet feels the whole piece.
int magnet_rank(const std::string& word)
{
  return word == "strong" ? 3 : word == "weak" ? 2 : word == "no-pull" ? 0 : 1;
}

}  // namespace

double chance_of(Facts facts, const BenchFacts& chances, bool reagent_checked)
{
  const auto of = [](bool fact, double probability) { return fact ? probability : 1.0 - probability; };
  return of(facts.notch_through, chances.notch_through_coat) *
         of(facts.reagent_works, reagent_checked ? chances.reagent_works_if_checked : chances.reagent_works) *
         of(facts.skin_clean, chances.skin_clean);
}

AnswerOdds::AnswerOdds(const Tables& tables, const BenchTest& test, const std::string& answer,
                       const std::string& reagent)
    : tables_(&tables),
      test_(&test),
      answer_(answer),
      of_magnet_(test.property == "magnet"),
      of_back_(test.site == "back"),
      deep_(test.site == "notch" || test.site == "piece")
{
  if (test.answers.empty()) {
    ln_reading_ = ln_conductivity_from(answer);  // add_answer saw that it is a number
    return;
  }
  const bool nitric = test.property == "chromate" && reagent == "nitric";
  const AnswerTable& table = nitric ? test.likelihood_nitric : test.likelihood;
  flat_ = 1.0 / static_cast<double>(test.answers.size());
  const auto given = [&](const std::string& word) {
    const auto row = table.find(word);
    return row == table.end() ? flat_ : lookup(row->second, answer, flat_);
  };
  if (test.property == "build") {
    for (const Build build : all_builds) {
      by_build_[static_cast<int>(build)] = given(std::string(name_of(build)));
    }
    both_faces_ = table.contains("both-faces") ? given("both-faces") : given(std::string(name_of(Build::inlay)));
    return;
  }
  weak_ = given("weak");
  for (const Material& material : tables.materials) {
    const std::string word = word_of(material, nitric ? "nitric" : test.property);
    clean_.push_back(test.property == "chromate" && reagent == "other" ? flat_ : given(word));
    rank_.push_back(of_magnet_ ? magnet_rank(word) : 0);
  }
  of_one_metal_ = !of_magnet_ && !(test.property == "chromate" && reagent == "other");
  const bool surface = test.site == "skin" || test.site == "back";
  if (test.property == "chromate" && reagent != "other") {
    dead_ = lookup(tables.facts.dead_reagent, answer, flat_);
    dirty_ = surface ? lookup(tables.facts.dirty_skin_reagent, answer, flat_) : -1.0;
  } else if (test.property == "skin" && surface) {
    dirty_ = lookup(tables.facts.dirty_skin_colour, answer, flat_);
  }
}

int AnswerOdds::asks_of_facts() const
{
  const bool of_notch = !clean_.empty() && !of_magnet_ && deep_;
  return (of_notch ? 1 : 0) + (dead_ >= 0.0 ? 2 : 0) + (dirty_ >= 0.0 ? 4 : 0);
}

double AnswerOdds::probability(const Hypothesis& h, Facts facts) const
{
  if (test_->answers.empty()) {
    return conductivity_odds_of(*tables_, *test_, h).at(ln_reading_);
  }
  if (h.kind == Kind::open_mix) {
    return flat_;
  }
  if (clean_.empty()) {
    if (h.both_faces) {
      return both_faces_;
    }
    // A hollow piece is one metal all round: its faces and its rim look like those of a solid one.
    return by_build_[static_cast<int>(h.kind == Kind::hollow ? Build::solid : h.build)];
  }
  if (!facts.reagent_works && dead_ >= 0.0) {
    return dead_;
  }
  if (!facts.skin_clean && dirty_ >= 0.0) {
    return dirty_;
  }
  if (h.inner_material < 0) {
    return clean_[h.outer_material];
  }
  if (of_magnet_) {
    if (rank_[h.inner_material] >= rank_[h.outer_material]) {
      return clean_[h.inner_material];
    }
    // A coat of some micrometres holds too little metal to pull hard.
    return h.kind == Kind::plated ? weak_ : clean_[h.outer_material];
  }
  return clean_[shows_inner(h, facts.notch_through) ? h.inner_material : h.outer_material];
}

bool AnswerOdds::shows_inner(const Hypothesis& h, bool notch_through) const
{
  return h.kind == Kind::plated ? deep_ && notch_through : of_back_ && !h.both_faces;
}

int AnswerOdds::metal_seen(const Hypothesis& h, Facts facts) const
{
  if (!of_one_metal_ || h.kind == Kind::open_mix) {
    return -1;
  }
  if ((!facts.reagent_works && dead_ >= 0.0) || (!facts.skin_clean && dirty_ >= 0.0)) {
    return -1;
  }
  return h.inner_material >= 0 && shows_inner(h, facts.notch_through) ? h.inner_material : h.outer_material;
}

bool AnswerOdds::asks_the_same(const AnswerOdds& other) const
{
  return test_->property == other.test_->property;
}

double agreement_of(const Tables& tables, const std::vector<AnswerOdds>& given, const Hypothesis& h, Facts facts)
{
  const auto metal = [&](const AnswerOdds& odds) { return odds.metal_seen(h, facts); };
  double factor = 1.0;
  for (auto one = given.begin(); one != given.end(); ++one) {
    const int own = metal(*one);
    const auto with_it = [&](const AnswerOdds& other) { return metal(other) == own && other.asks_the_same(*one); };
    if (own < 0 || std::any_of(given.begin(), one, with_it)) {
      continue;
    }
    double product = 1.0;
    int count = 0;
    bool alike = true;
    for (auto other = one; other != given.end(); ++other) {
      if (with_it(*other)) {
        product *= other->probability(h, facts);
        alike = alike && other->answers_the_same(*one);
        ++count;
      }
    }
    if (count > 1) {
      const double together = tables.facts.one_answer_for_a_metal;
      factor *= 1.0 - together + (alike ? together * std::pow(product, 1.0 / count - 1.0) : 0.0);
    }
  }
  return factor;
}

BenchOdds::BenchOdds(const Tables& tables, const Answers& answers)
    : tables_(&tables), reagent_checked_(answers.reagent_checked)
{
  for (const auto& [key, answer] : answers.given) {
    const auto test = std::find_if(tables.tests.begin(), tables.tests.end(),
                                   [&, &name = key](const BenchTest& t) { return t.key == name; });
    add({tables, *test, answer, answers.reagent});
  }
}

double BenchOdds::likelihood(const Hypothesis& hypothesis) const
{
  if (odds_.empty()) {
    return 1.0;
  }
  double total = 0.0;
  for (int which = 0; which < fact_cases; ++which) {
    const Facts facts = facts_of(which);
    double p = chance_of(facts, tables_->facts, reagent_checked_) * agreement_of(*tables_, odds_, hypothesis, facts);
    for (const AnswerOdds& odds : odds_) {
      p *= odds.probability(hypothesis, facts);
    }
    total += p;
  }
  return total;
}

void add_answer(const Tables& tables, Answers& answers, const std::string& name, const std::string& answer)
{
  const BenchTest& test = test_called(tables, name);
  if (answer.empty() || answer == "untested") {
    return;
  }
  for (const auto& [given, old] : answers.given) {
    if (given == test.key) {
      throw Error(ErrorCode::bad_option, fmt::format("answered twice ({} and {}); give it once", old, answer),
                  {.field = test.key});
    }
  }
  if (test.answers.empty()) {
    double value = 0.0;
    const auto [end, trouble] = std::from_chars(answer.data(), answer.data() + answer.size(), value);
    if (trouble != std::errc() || end != answer.data() + answer.size() || !(value >= 0.1 && value <= 110.0)) {
      throw Error(ErrorCode::bad_option, fmt::format("\"{}\" is not a conductivity from 0.1 to 110 %IACS", answer),
                  {.field = test.key});
    }
    answers.given.emplace_back(test.key, answer);
    return;
  }
  const auto known = [&](const std::string& word) {
    return std::find(test.answers.begin(), test.answers.end(), word) != test.answers.end();
  };
  std::string word = folded(answer);
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
    throw Error(ErrorCode::unknown_key, fmt::format("\"{}\" is not one of its answers: {}", answer, list),
                {.field = test.key});
  }
  answers.given.emplace_back(test.key, word);
}

std::string step_of(const BenchTest& test, const std::string& reagent)
{
  constexpr std::string_view named = "the silver reagent";
  std::string step = test.step;
  const auto at = step.find(named);
  if (at != std::string::npos && reagent != "chromate") {
    step.replace(at, named.size(), reagent == "nitric" ? "the nitric acid" : "your test drop");
  }
  return step;
}

bool files(const BenchTest& test)
{
  return test.marks && (!is_drop(test) || test.site == "notch");
}

bool has_room_for(const BenchTest& test, double volume_cm3)
{
  constexpr double of_probe_cm3 = 0.1;
  return test.property != "conductivity_iacs" || volume_cm3 >= of_probe_cm3;
}

bool is_drop(const BenchTest& test)
{
  return test.property == "chromate";
}

std::vector<std::string> possible_answers(const BenchTest& test)
{
  if (!test.answers.empty()) {
    return test.answers;
  }
  // Even in the logarithm, as the odds of a reading are; no further apart than twice what a meter errs by: sums over
  // them are then integrals to 1 % (a Gaussian's Fourier transform at the spacing).
  constexpr double lowest = 0.1;
  constexpr double ratio = 1.27;
  constexpr int count = 30;  // up to 102: the next would be above 110
  std::vector<std::string> readings(count);
  for (int k = 0; k < count; ++k) {
    readings[k] = fmt::format("{:.3g}", lowest * std::pow(ratio, k));
  }
  return readings;
}

}  // namespace bilancetta
