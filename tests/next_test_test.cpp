#include "bilancetta/next_test.hpp"

#include <algorithm>
#include <random>

#include "bilancetta/remedy.hpp"
#include "bilancetta/verdict.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;
using Catch::Matchers::WithinAbs;

namespace
{

const Prepared& prepared()
{
  static const Prepared all(built_in_tables());
  return all;
}

Weighing weighed(double dry_g, double rise_g, ScaleClass scale_class)
{
  Weighing w;
  w.scale = scale_of(scale_class);
  w.surroundings.wetting = Wetting::soaped;
  w.readings.dry_g = {dry_g};
  w.readings.rise_g = {rise_g};
  return w;
}

struct State {
  Analysis analysis;
  Background background;
  std::vector<int> plausible;
};

State state_of(const Weighing& weighing, const Context& context)
{
  State s{weigh_up(weighing, 0.95), {}, {}};
  const auto& members = prepared().members(coat_volume_cm3(s.analysis, weighing));
  s.background = background_of(prepared(), members, context);
  hold_against(s.analysis, members, s.background, false);
  s.plausible = plausible_members(s.analysis);
  return s;
}

double entropy_of(const std::vector<double>& mass)
{
  double total = 0.0;
  for (const double m : mass) {
    total += m;
  }
  double bits = 0.0;
  for (const double m : mass) {
    bits -= m > 0.0 ? m / total * std::log2(m / total) : 0.0;
  }
  return bits;
}

}  // namespace

// Brute force: draw hypothesis and density from the posterior, draw the observation, weigh all hypotheses by Bayes'
// rule with a normal density at every node of the grid.
TEST_CASE("the information of one more observation is that of brute force", "[next_test]")
{
  const double relative_sd = GENERATE(0.002, 0.006, 0.02);
  const State s = state_of(weighed(1.20, 0.12, ScaleClass::pocket), {});
  const Question question = Question::silver;
  const std::vector<int> classes = answer_classes_of(s.analysis, s.plausible, question, nullptr);
  // Mass of the two answers by node.
  const GridFunction curve = weights_on_grid(s.analysis.curve);
  const std::size_t size = curve.value.size();
  std::vector<std::vector<double>> mass(2, std::vector<double>(size, 0.0));
  std::vector<double> by_answer(2, 0.0);
  for (std::size_t k = 0; k < s.plausible.size(); ++k) {
    const Member& member = *(*s.analysis.members)[s.plausible[k]];
    for (std::size_t n = 0; n < size; ++n) {
      const int at = curve.first + static_cast<int>(n) - member.predicted.first;
      if (at >= 0 && at < static_cast<int>(member.predicted.value.size())) {
        const double m = s.analysis.posterior[s.plausible[k]] / s.analysis.evidence[s.plausible[k]] * curve.value[n] *
                         member.predicted.value[at];
        mass[classes[k]][n] += m;
        by_answer[classes[k]] += m;
      }
    }
  }
  std::mt19937 source(5);
  std::vector<double> both(size);
  for (std::size_t n = 0; n < size; ++n) {
    both[n] = mass[0][n] + mass[1][n];
  }
  std::discrete_distribution<int> node(both.begin(), both.end());
  std::normal_distribution<double> error(0.0, relative_sd / density_grid::spacing);
  constexpr int draws = 3000;
  double left = 0.0;
  double squares = 0.0;
  for (int i = 0; i < draws; ++i) {
    const double read = node(source) + error(source);
    std::vector<double> after(2, 0.0);
    for (std::size_t n = 0; n < size; ++n) {
      const double distance = (static_cast<double>(n) - read) * density_grid::spacing / relative_sd;
      if (std::abs(distance) < 6.0) {
        const double likelihood = std::exp(-0.5 * distance * distance);
        after[0] += mass[0][n] * likelihood;
        after[1] += mass[1][n] * likelihood;
      }
    }
    const double bits = entropy_of(after);
    left += bits;
    squares += bits * bits;
  }
  left /= draws;
  const double standard_error = std::sqrt((squares / draws - left * left) / draws);
  const double drop = entropy_of(by_answer) - left;
  CHECK(drop > 0.001);
  CHECK_THAT(expected_bits_of_observation(s.analysis, s.plausible, question, nullptr, relative_sd),
             WithinAbs(drop, 4.0 * standard_error + 0.003));
}

TEST_CASE("a sharper observation tells more, and none tells more than the doubt", "[next_test]")
{
  const State s = state_of(weighed(1.20, 0.12, ScaleClass::pocket), {});
  for (const Question question : {Question::build, Question::silver, Question::cadmium, Question::precious}) {
    double last = 0.0;
    for (const double sd : {0.2, 0.05, 0.01, 0.003}) {
      const double bits = expected_bits_of_observation(s.analysis, s.plausible, question, nullptr, sd);
      CHECK(bits >= last - 1e-6);
      last = bits;
    }
    CHECK(last <= doubt_of(s.analysis, s.plausible, question, nullptr));
  }
}

// The same liquid stands in all readings: five of them, or ten pieces at once, know its density no better. A weighing
// in a liquid of its own, of the same standard uncertainty, would tell something.
TEST_CASE("more of the same promises nothing where an error rules that it shares", "[next_test]")
{
  Weighing w = weighed(30.0, 3.3, ScaleClass::laboratory);
  w.surroundings.wetting = Wetting::sealed;
  w.surroundings.liquid_density_g_cm3 = 1.0;
  w.surroundings.liquid_density_u_g_cm3 = 0.02;
  const State s = state_of(w, {});
  const Question question = Question::build;
  const double relative_u = combined_u(w) / s.analysis.density.plain;
  CHECK_THAT(relative_u, WithinAbs(0.02, 0.001));
  CHECK(expected_bits_of_observation(s.analysis, s.plausible, question, nullptr, relative_u) > 0.1);
  const std::vector<NextTest> steps = next_weighings_of(s.analysis, s.plausible, question, nullptr, w);
  REQUIRE(steps.size() == 2);
  for (const NextTest& step : steps) {
    INFO(step.key);
    CHECK((step.key == "repeats" || step.key == "pool"));
    CHECK(step.bits < 0.001);
  }
}

TEST_CASE("steps come best value first, with sharper weighings among them", "[next_test]")
{
  Piece piece;
  piece.weighing = weighed(1.20, 0.12, ScaleClass::pocket);
  const Verdict v = verdict_of(prepared(), piece, {});
  for (const char* key : {"pool", "repeats", "finer-scale"}) {
    CHECK(std::any_of(v.next.begin(), v.next.end(), [&](const NextTest& n) { return n.key == key && n.is_weighing; }));
  }
  CHECK(std::is_sorted(v.next.begin(), v.next.end(),
                       [](const NextTest& a, const NextTest& b) { return a.value > b.value; }));
}

TEST_CASE("a claim of one piece is not put to the mean of many", "[next_test]")
{
  Piece piece;
  piece.weighing = weighed(0.40, 0.04, ScaleClass::pocket);
  const auto pools = [&] {
    const Verdict v = verdict_of(prepared(), piece, {});
    CHECK_FALSE(v.next.empty());
    return std::any_of(v.next.begin(), v.next.end(), [](const NextTest& n) { return n.key == "pool"; });
  };
  CHECK(pools());
  piece.claim = "925";
  CHECK_FALSE(pools());
}

TEST_CASE("nothing that marks is proposed for coins, jewellery and tableware unless it is allowed", "[next_test]")
{
  const char* place = GENERATE("coins", "jewellery", "tableware", "dental");
  Piece piece;
  piece.context.place = place;
  piece.context.form = Form::solid;
  piece.weighing = weighed(12.000, 1.350, ScaleClass::jeweller);
  VerdictOptions options;
  const auto marks = [&](const Verdict& v) {
    return std::any_of(v.next.begin(), v.next.end(), [](const NextTest& n) { return n.marks; });
  };
  const Verdict v = verdict_of(prepared(), piece, options);
  CHECK_FALSE(marks(v));
  for (const Candidate& c : v.candidates) {
    CHECK((c.told_by.empty() || !test_called(built_in_tables(), c.told_by).marks));
  }
  options.marks = Marks::always;
  CHECK(marks(verdict_of(prepared(), piece, options)));
}

TEST_CASE("no file is proposed where beryllium copper is plausible", "[next_test]")
{
  // Beryllium copper C17200 has 8.25 g/cm3 (handbooks); it is common among the springs of a relay.
  Piece piece;
  piece.context.place = "relay";
  piece.weighing = weighed(5.000, 0.605, ScaleClass::jeweller);
  const Verdict v = verdict_of(prepared(), piece, {});
  REQUIRE(std::any_of(v.cautions.begin(), v.cautions.end(), [](const auto& c) { return c.key == "beryllium"; }));
  for (const NextTest& n : v.next) {
    CHECK_FALSE(contains(n.step, "file"));
    CHECK_FALSE(contains(n.step, "File"));
  }
  for (const Candidate& c : v.candidates) {
    CHECK((c.told_by.empty() || !files(test_called(built_in_tables(), c.told_by))));
  }
}

TEST_CASE("a file is proposed with care where cadmium is plausible, and every step says what to type", "[next_test]")
{
  Piece piece;
  piece.context.place = "motor";
  piece.weighing = weighed(4.10, 0.46, ScaleClass::jeweller);
  for (const auto& [test, answer] :
       {std::pair("magnet", "no-pull"), std::pair("sides", "alike"), std::pair("skin-colour", "yellow"),
        std::pair("skin-reagent", "red"), std::pair("back-colour", "copper")}) {
    add_answer(built_in_tables(), piece.context.answers, test, answer);
  }
  VerdictOptions options;
  options.question = Question::silver;
  const Verdict v = verdict_of(prepared(), piece, options);
  REQUIRE(std::any_of(v.cautions.begin(), v.cautions.end(), [](const auto& c) { return c.key == "cadmium"; }));
  INFO(v.one_thing);
  REQUIRE(files(test_called(built_in_tables(), v.next.front().key)));
  CHECK(contains(v.one_thing, "wet, over a damp cloth"));
  for (const NextTest& step : v.next) {
    INFO(step.key);
    const bool filed = !step.is_weighing && files(test_called(built_in_tables(), step.key));
    CHECK((step.caution() == "cadmium") == filed);
  }
  CHECK(contains(v.one_thing, "Then add --test " + v.next.front().key + "="));
}

// A file makes dust of it (OSHA 29 CFR 1910.1027 counts that as exposure), and the piece lies on its pile anyway.
TEST_CASE("no file is proposed where cadmium is suspected", "[next_test]")
{
  Piece piece;
  piece.context.place = "starter";
  piece.weighing = weighed(3.120, 0.310, ScaleClass::jeweller);
  for (const auto& [test, answer] : {std::pair("magnet", "no-pull"), std::pair("sides", "alike"),
                                     std::pair("skin-colour", "grey"), std::pair("back-colour", "grey")}) {
    add_answer(built_in_tables(), piece.context.answers, test, answer);
  }
  const Verdict v = verdict_of(prepared(), piece, {});
  const auto cadmium =
      std::find_if(v.cautions.begin(), v.cautions.end(), [](const auto& c) { return c.key == "cadmium"; });
  REQUIRE(cadmium != v.cautions.end());
  REQUIRE(cadmium->probability > 0.5);
  for (const NextTest& step : v.next) {
    INFO(step.key);
    CHECK((step.is_weighing || !files(test_called(built_in_tables(), step.key))));
  }
}

// From 10 % on (docs/method.md, section 12).
TEST_CASE("no file is proposed where cadmium is as likely as on the suspects' pile, be it not likely", "[next_test]")
{
  Piece piece;
  piece.context.place = "relay";
  piece.weighing = weighed(5.000, 0.510, ScaleClass::jeweller);
  add_answer(built_in_tables(), piece.context.answers, "magnet", "none");
  add_answer(built_in_tables(), piece.context.answers, "sides", "alike");
  const Verdict v = verdict_of(prepared(), piece, {});
  const auto cadmium =
      std::find_if(v.cautions.begin(), v.cautions.end(), [](const auto& c) { return c.key == "cadmium"; });
  REQUIRE(cadmium != v.cautions.end());
  REQUIRE(cadmium->probability >= 0.1);
  REQUIRE(cadmium->probability < 0.4);
  REQUIRE_FALSE(v.next.empty());
  for (const NextTest& step : v.next) {
    INFO(step.key);
    CHECK((step.is_weighing || !files(test_called(built_in_tables(), step.key))));
  }
}

TEST_CASE("plain words are shares of the doubt", "[next_test]")
{
  const auto words = [](double bits, double doubt) {
    NextTest test;
    test.bits = bits;
    test.doubt = doubt;
    return help_of(test);
  };
  CHECK(words(0.80, 1.0) == "settles it");
  CHECK(words(0.79, 1.0) == "halves the doubt");
  CHECK(words(0.40, 1.0) == "halves the doubt");
  CHECK(words(0.39, 1.0) == "helps a little");
  CHECK(words(0.0, 0.0) == "helps a little");
}

// Of a drop 0.1 bits are asked, of what makes no waste 0.02 (docs/method.md, section 12).
TEST_CASE("a drop is named as what tells from a tenth of a bit on, another test sooner", "[next_test]")
{
  State s = state_of(weighed(1.20, 0.12, ScaleClass::pocket), {});
  const Tables& t = built_in_tables();
  std::fill(s.background.test_likelihood.begin(), s.background.test_likelihood.end(), 1.0);
  const auto family = [&](int i) {
    const Hypothesis& h = (*s.analysis.members)[i]->hypothesis;
    return std::pair(h.build, h.outer_material < 0 ? std::string() : t.materials[h.outer_material].group);
  };
  const auto share_of = [&](int member) {
    double own = 0.0;
    double all = 0.0;
    for (const int i : s.plausible) {
      own += family(i) == family(member) ? s.analysis.posterior[i] : 0.0;
      all += s.analysis.posterior[i];
    }
    return own / all;
  };
  const auto member = std::find_if(s.plausible.begin(), s.plausible.end(),
                                   [&](int i) { return share_of(i) > 0.15 && share_of(i) < 0.85; });
  REQUIRE(member != s.plausible.end());
  // A test that a piece of this family answers with 0.5 + tilt, another with 0.5 - tilt.
  const auto named = [&](const char* test, double tilt) {
    Proposal proposal{&test_called(t, test), std::vector<std::vector<double>>(2)};
    for (std::size_t i = 0; i < s.analysis.posterior.size(); ++i) {
      const double p = 0.5 + (family(static_cast<int>(i)) == family(*member) ? tilt : -tilt);
      proposal.likelihood[0].push_back(p);
      proposal.likelihood[1].push_back(1.0 - p);
    }
    const double share = share_of(*member);
    const double yes = share * (0.5 + tilt) + (1.0 - share) * (0.5 - tilt);
    const double bits = entropy_of({yes, 1.0 - yes}) - entropy_of({0.5 + tilt, 0.5 - tilt});
    return std::pair(bits, telling_test_of(t, s.analysis, s.background, {proposal}, s.plausible, *member, true));
  };
  const auto [little, drop] = named("skin-reagent", 0.16);
  INFO(little);
  REQUIRE(little > 0.025);
  REQUIRE(little < 0.09);
  CHECK(drop.empty());
  CHECK(named("sides", 0.16).second == "sides");
  const auto [more, telling_drop] = named("skin-reagent", 0.4);
  REQUIRE(more > 0.11);
  CHECK(telling_drop == "skin-reagent");
  CHECK(named("sides", 0.02).second.empty());
}
