#include "bilancetta/next_test.hpp"

#include <algorithm>
#include <array>

#include "bilancetta/error.hpp"
#include "bilancetta/spelling.hpp"
#include "doubt.hpp"

namespace bilancetta
{

int answer_class(const Members& members, std::size_t which, Question question, const Claim* claim)
{
  const MemberTraits& traits = members.traits(which);
  switch (question) {
    case Question::build:
      return static_cast<int>(traits.build);
    case Question::silver:
      return traits.holds_silver ? 1 : 0;
    case Question::cadmium:
      return traits.carries_cadmium ? 1 : 0;
    case Question::precious:
      return traits.precious ? 1 : 0;
    case Question::claim:
      return claim && makes_true(*claim, traits) ? 1 : 0;
  }
  return 0;
}

Question question_called(std::string_view name)
{
  constexpr std::string_view names[] = {"build", "silver", "cadmium", "precious", "claim"};
  for (int i = 0; i < static_cast<int>(std::size(names)); ++i) {
    if (same_name(names[i], name)) {
      return static_cast<Question>(i);
    }
  }
  throw Error(ErrorCode::unknown_key,
              "\"" + std::string(name) + "\" is not one of build, silver, cadmium, precious, claim", {.field = "ask"});
}

std::vector<Proposal> proposals_for(const Tables& tables, const Members& members, const Answers& answers,
                                    const std::vector<int>& listed)
{
  const BenchOdds so_far(tables, answers);
  std::vector<Proposal> proposals;
  for (const BenchTest& test : tables.tests) {
    const bool done = std::any_of(answers.given.begin(), answers.given.end(),
                                  [&](const auto& given) { return given.first == test.key; });
    if (done) {
      continue;
    }
    Proposal proposal{&test, {}};
    for (const std::string& answer : possible_answers(test)) {
      BenchOdds with = so_far;
      with.add({tables, test, answer, answers.reagent});
      std::vector<double>& row = proposal.likelihood.emplace_back(members.size(), 0.0);
      for (const int i : listed) {
        row[i] = with.likelihood(members[i]->hypothesis);
      }
    }
    proposals.push_back(std::move(proposal));
  }
  return proposals;
}

std::vector<int> answer_classes_of(const Analysis& analysis, const std::vector<int>& listed, Question question,
                                   const Claim* claim)
{
  std::vector<int> classes;
  classes.reserve(listed.size());
  for (const int i : listed) {
    classes.push_back(answer_class(*analysis.members, i, question, claim));
  }
  return classes;
}

double doubt_of(const Analysis& analysis, const std::vector<int>& plausible, Question question, const Claim* claim)
{
  std::array<double, 4> mass{};
  for (const int i : plausible) {
    mass[answer_class(*analysis.members, i, question, claim)] += analysis.posterior[i];
  }
  return entropy_bits(mass);
}

Question most_open_question(const Analysis& analysis, const std::vector<int>& plausible, const Claim* claim)
{
  if (claim) {
    return Question::claim;
  }
  constexpr std::array questions = {Question::build, Question::silver, Question::cadmium, Question::precious};
  std::array<std::array<double, answer_classes>, questions.size()> mass{};
  for (const int i : plausible) {
    for (std::size_t k = 0; k < questions.size(); ++k) {
      mass[k][answer_class(*analysis.members, i, questions[k], claim)] += analysis.posterior[i];
    }
  }
  std::array<double, questions.size()> doubt{};
  std::transform(mass.begin(), mass.end(), doubt.begin(), entropy_bits);
  return questions[std::max_element(doubt.begin(), doubt.end()) - doubt.begin()];
}

namespace
{

// Entropy of the classes that is left on average once a test is answered, bits.
double doubt_after(const Analysis& analysis, const Background& background, const Proposal& proposal,
                   const std::vector<int>& plausible, const std::vector<int>& classes)
{
  double left = 0.0;
  double total = 0.0;
  for (const std::vector<double>& row : proposal.likelihood) {
    std::array<double, 4> mass{};
    double sum = 0.0;
    for (std::size_t k = 0; k < plausible.size(); ++k) {
      const int i = plausible[k];
      const double m = analysis.posterior[i] * row[i] / std::max(background.test_likelihood[i], 1e-300);
      mass[classes[k]] += m;
      sum += m;
    }
    left += sum * entropy_bits(mass);
    total += sum;
  }
  return left / total;
}

}  // namespace

double least_bits_of(const BenchTest& test)
{
  constexpr double of_drops = 0.1;
  return is_drop(test) ? of_drops : least_bits;
}

std::vector<NextTest> next_tests_of(const Analysis& analysis, const Background& background,
                                    const std::vector<Proposal>& proposals, const std::vector<int>& plausible,
                                    Question question, const Claim* claim, bool marks_allowed)
{
  const double doubt = doubt_of(analysis, plausible, question, claim);
  const std::vector<int> classes = answer_classes_of(analysis, plausible, question, claim);
  std::vector<NextTest> tests;
  for (const Proposal& proposal : proposals) {
    const BenchTest& test = *proposal.test;
    if (test.marks && !marks_allowed) {
      continue;
    }
    const double bits = std::max(doubt - doubt_after(analysis, background, proposal, plausible, classes), 0.0);
    tests.push_back({test.key, test.step, bits, value_for_effort(bits, test.effort), doubt, test.marks});
    tests.back().least = least_bits_of(test);
  }
  std::stable_sort(tests.begin(), tests.end(), [](const NextTest& a, const NextTest& b) { return a.value > b.value; });
  return tests;
}

double lowest_hazard_after(const Tables& tables, const Analysis& analysis, const Background& background,
                           const std::vector<Proposal>& proposals, const std::vector<int>& plausible,
                           const std::string& caution)
{
  const int which = find_caution(tables, caution);
  const auto counts = [&](int i) {
    return caution == "cadmium" ? counts_as_cadmium(analysis, i) : carries(analysis.members->traits(i), which);
  };
  double lowest = 1.0;
  for (const Proposal& proposal : proposals) {
    for (const std::vector<double>& row : proposal.likelihood) {
      double with = 0.0;
      double total = 0.0;
      for (const int i : plausible) {
        const double mass = analysis.posterior[i] * row[i] / std::max(background.test_likelihood[i], 1e-300);
        with += counts(i) ? mass : 0.0;
        total += mass;
      }
      lowest = total > 0.0 ? std::min(lowest, with / total) : lowest;
    }
  }
  return lowest;
}

std::string telling_test_of(const Tables& tables, const Analysis& analysis, const Background& background,
                            const std::vector<Proposal>& proposals, const std::vector<int>& plausible, int member,
                            bool marks_allowed)
{
  const auto family = [&](int i) {
    const Hypothesis& h = (*analysis.members)[i]->hypothesis;
    return std::pair(h.build, h.outer_material < 0 ? std::string() : tables.materials[h.outer_material].group);
  };
  std::vector<int> classes;
  classes.reserve(plausible.size());
  std::array<double, 4> now{};
  for (const int i : plausible) {
    classes.push_back(family(i) == family(member) ? 1 : 0);
    now[classes.back()] += analysis.posterior[i];
  }
  std::string best;
  double most = 0.0;
  for (const Proposal& proposal : proposals) {
    const double bits = entropy_bits(now) - doubt_after(analysis, background, proposal, plausible, classes);
    if ((!proposal.test->marks || marks_allowed) && bits > least_bits_of(*proposal.test) &&
        value_for_effort(bits, proposal.test->effort) > most) {
      most = value_for_effort(bits, proposal.test->effort);
      best = proposal.test->key;
    }
  }
  return best;
}

std::string_view help_of(const NextTest& test)
{
  const double share = test.doubt > 0.0 ? test.bits / test.doubt : 0.0;
  return share >= 0.8 ? "settles it" : share >= 0.4 ? "halves the doubt" : "helps a little";
}

}  // namespace bilancetta
