#include "bilancetta/plan.hpp"
#include "bilancetta/scale_shown.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <random>

#include "bilancetta/error.hpp"
#include "bilancetta/plan_report.hpp"
#include "report_words.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace
{

int material(const char* key)
{
  return find_material(built_in_tables(), key);
}

// A weighing drawn without the library's error model: noise, linearity, rounding, meniscus, bubbles, evaporation and
// a water temperature of its own.
Weighing drawn(const PlannedWeighing& plan, double density, std::mt19937_64& random)
{
  const auto uniform = [&](double half) { return std::uniform_real_distribution<double>(-half, half)(random); };
  const auto normal = [&](double sd) { return std::normal_distribution<double>(0.0, sd)(random); };
  const Scale& s = plan.scale;
  const auto shown = [&](double value, double offset) {
    return std::round((value + offset + normal(s.repeatability_g)) / s.readability_g) * s.readability_g;
  };
  // Pieces of about the planned weight: a coarse display does not meet them at one phase of its step.
  const double dry = plan.each_g * plan.count * (1.0 + uniform(0.15));
  const double water = water_density_g_cm3(std::clamp(20.0 + normal(3.0), 1.0, 39.0));
  const double volume = dry / density;
  const double surface = std::max(plan.count * 8.0 * std::pow(volume / plan.count, 2.0 / 3.0), 0.05);
  const double bubbles = std::exponential_distribution<double>(1.0 / (1e-4 * surface))(random);
  const double displaced = (water - 0.0012) * volume + bubbles + uniform(0.0005) - std::abs(uniform(0.0002));
  Weighing w;
  w.scale = s;
  w.surroundings = plan.surroundings;
  w.count = plan.count;
  const double dry_offset = uniform(s.linearity_g);
  const double wet_offset = uniform(s.linearity_g);
  for (int i = 0; i < plan.repeats; ++i) {
    w.readings.dry_g.push_back(shown(dry, dry_offset));
    if (plan.way == Way::rise) {
      w.readings.rise_g.push_back(shown(displaced, wet_offset));
    } else {
      w.readings.submerged_g.push_back(shown(dry - displaced, wet_offset));
    }
  }
  return w;
}

// Share of weighings of one material that its own predicted density explains better than the other's.
double told_apart(const PlannedWeighing& plan, int truth, int other, std::mt19937_64& random)
{
  const Tables& tables = built_in_tables();
  const Member members[] = {member_of(tables, solid_hypothesis(tables, truth), Member::Serves::verdicts),
                            member_of(tables, solid_hypothesis(tables, other), Member::Serves::verdicts)};
  constexpr int weighings = 2000;
  int right = 0;
  for (int i = 0; i < weighings; ++i) {
    const Hypothesis& h = members[0].hypothesis;
    double z[max_variables] = {};
    for (int k = 0; k < h.variables; ++k) {
      z[k] = std::normal_distribution<double>()(random);
    }
    const double density = h.evaluate(z).density * std::exp(h.scatter * std::normal_distribution<double>()(random));
    const GridFunction weights = weights_on_grid(density_curve_of(drawn(plan, density, random)));
    right += dot(weights, members[0].predicted) > dot(weights, members[1].predicted) ? 1 : 0;
  }
  return static_cast<double>(right) / weighings;
}

}  // namespace

TEST_CASE("what a plan promises is what simulated weighings achieve", "[plan]")
{
  struct Case {
    const char* one;
    const char* other;
    ScaleClass scale;
    double each_g;
    int count, repeats;
    Way way;
  };
  const Case cases[] = {{"fine-silver", "c11000", ScaleClass::pocket, 1.0, 1, 1, Way::rise},
                        {"fine-silver", "c11000", ScaleClass::pocket, 0.5, 5, 1, Way::submerged},
                        {"sterling", "silver-800", ScaleClass::pocket, 10.0, 1, 1, Way::rise},
                        {"sterling", "silver-800", ScaleClass::jeweller, 1.0, 1, 1, Way::rise},
                        {"sterling", "coin-silver", ScaleClass::laboratory, 30.0, 1, 1, Way::rise},
                        {"fine-silver", "molybdenum", ScaleClass::jeweller, 0.5, 4, 3, Way::submerged},
                        {"c26000", "c11000", ScaleClass::pocket, 3.0, 1, 3, Way::rise}};
  std::mt19937_64 random(11);
  for (const Case& c : cases) {
    PlannedWeighing plan;
    plan.scale = scale_of(c.scale);
    plan.surroundings.wetting = Wetting::soaped;
    plan.way = c.way;
    plan.each_g = c.each_g;
    plan.count = c.count;
    plan.repeats = c.repeats;
    const auto promised = chances_apart(built_in_tables(), plan, material(c.one), material(c.other));
    INFO(c.one << " and " << c.other << ", " << c.each_g << " g");
    CHECK_THAT(told_apart(plan, material(c.one), material(c.other), random), WithinAbs(promised.first, 0.03));
    CHECK_THAT(told_apart(plan, material(c.other), material(c.one), random), WithinAbs(promised.second, 0.03));
  }
}

// The plan's own band is no reference: the true density of each drawn weighing is.
TEST_CASE("a plan's plus-or-minus holds nineteen of twenty simulated weighings, and is what they are given", "[plan]")
{
  std::mt19937_64 random(12);
  for (const Way way : {Way::rise, Way::submerged}) {
    PlannedWeighing plan;
    plan.scale = scale_of(ScaleClass::pocket);
    plan.surroundings.wetting = Wetting::soaped;
    plan.way = way;
    plan.each_g = 10.0;
    const double planned = expected_half_width(plan, 10.3);
    constexpr int weighings = 1000;
    int held = 0;
    double widths = 0.0;
    for (int i = 0; i < weighings; ++i) {
      const Weighing w = drawn(plan, 10.3, random);
      const DensitySummary s = summary_of(density_curve_of(w), w);
      widths += 0.5 * (s.high - s.low);
      held += std::abs(s.value - 10.3) <= planned ? 1 : 0;
    }
    CHECK_THAT(widths / weighings, WithinRel(planned, 0.05));
    CHECK(held >= weighings * 93 / 100);
  }
}

TEST_CASE("more metal, more repeats and a finer scale narrow a plan", "[plan]")
{
  PlannedWeighing plan;
  plan.each_g = 2.0;
  double last = expected_half_width(plan, 10.49);
  for (const int count : {2, 5, 20}) {
    plan.count = count;
    const double now = expected_half_width(plan, 10.49);
    CHECK(now < last);
    last = now;
  }
  plan.repeats = 5;
  CHECK(expected_half_width(plan, 10.49) < last);
  plan.scale = scale_of(ScaleClass::jeweller);
  CHECK(expected_half_width(plan, 10.49) < last);
}

// Of normal errors 68.27 % lie within one standard deviation, 95 % within 1.96.
TEST_CASE("a plan's plus-or-minus is that of its level", "[plan]")
{
  PlannedWeighing plan;
  plan.scale = scale_of(ScaleClass::pocket);
  plan.surroundings.wetting = Wetting::sealed;
  plan.each_g = 20.0;
  plan.repeats = 10;
  const double usual = expected_half_width(plan, 10.49);
  CHECK_THAT(expected_half_width(plan, 10.49, 0.95), WithinAbs(usual, 1e-12));
  const double narrow = expected_half_width(plan, 10.49, 0.6827);
  CHECK(narrow > 0.45 * usual);
  CHECK(narrow < 0.65 * usual);
  plan.repeats = 1;
  plan.each_g = 1.0;
  CHECK(pieces_for_one_percent(plan, 10.49, 0.6827) < pieces_for_one_percent(plan, 10.49));
}

TEST_CASE("pieces needed are enough, and one step fewer are not", "[plan]")
{
  const Tables& tables = built_in_tables();
  PlannedWeighing plan;
  plan.each_g = 0.5;
  plan.surroundings.wetting = Wetting::soaped;
  const int needed = pieces_needed(tables, plan, material("fine-silver"), material("c11000"), 0.95);
  REQUIRE(needed > 1);
  plan.count = needed;
  CHECK(chance_apart(tables, plan, material("fine-silver"), material("c11000")) >= 0.95);
  plan.count = 1;
  CHECK(chance_apart(tables, plan, material("fine-silver"), material("c11000")) < 0.95);
  // No scale tells 925 from 900 with certainty: their densities overlap.
  PlannedWeighing best;
  best.scale = scale_of(ScaleClass::laboratory);
  best.each_g = 100.0;
  CHECK(chance_apart(tables, best, material("sterling"), material("coin-silver")) < 0.9);
}

TEST_CASE("repeats needed are enough, and one step fewer are not", "[plan]")
{
  const Tables& tables = built_in_tables();
  PlannedWeighing once;
  once.surroundings.wetting = Wetting::soaped;
  const std::vector<int> steps = {1, 2, 3, 5, 10};
  const auto check_repeats = [&](const char* one, const char* other, double confidence) {
    INFO(one << " and " << other);
    const int needed = repeats_needed(tables, once, material(one), material(other), confidence);
    const auto step = std::find(steps.begin(), steps.end(), needed);
    REQUIRE(step != steps.begin());
    REQUIRE(step != steps.end());
    PlannedWeighing plan = once;
    plan.repeats = needed;
    CHECK(chance_apart(tables, plan, material(one), material(other)) >= confidence);
    plan.repeats = *std::prev(step);
    CHECK(chance_apart(tables, plan, material(one), material(other)) < confidence);
  };
  check_repeats("fine-silver", "c11000", 0.95);
  check_repeats("sterling", "silver-800", 0.6);
  CHECK(repeats_needed(tables, once, material("sterling"), material("coin-silver"), 0.9) == 0);
}

TEST_CASE("a plan takes the liquid's own scale and liquid, and ends at what can be weighed", "[plan]")
{
  PlannedWeighing plan;
  plan.scale = scale_of(ScaleClass::pocket);
  const double pocket = expected_half_width(plan, 10.49);
  plan.liquid_scale = scale_of(ScaleClass::laboratory);
  CHECK(expected_half_width(plan, 10.49) < 0.5 * pocket);
  plan.liquid_scale.reset();
  plan.surroundings.liquid_density_g_cm3 = 3.1;  // titanium displaces seven tenths of its weight of it
  CHECK(chance_apart(built_in_tables(), plan, material("ti-6al-4v"), material("c11000")) > 0.99);
  plan.surroundings = {};
  plan.each_g = 150.0;  // a thousand of them are more than 100 kg
  CHECK(pieces_needed(built_in_tables(), plan, material("sterling"), material("sterling-zinc-only"), 0.9999) == 0);
}

// 260 g of silver, 10.49 g/cm3, fill 24.8 of 25 mL.
TEST_CASE("nothing is planned by a bottle that does not hold the pieces", "[plan]")
{
  PlannedWeighing plan;
  plan.each_g = 500.0;
  CHECK(can_be_weighed(plan, 10.49));
  plan.way = Way::bottle;
  CHECK_FALSE(can_be_weighed(plan, 10.49));
  plan.each_g = 260.0;
  CHECK(can_be_weighed(plan, 10.49));
  CHECK_FALSE(can_be_weighed(plan, 8.96));
}

TEST_CASE("readings of one coin show the scale", "[plan]")
{
  const ScaleShown shown = scale_shown_by({5.01, 5.00, 5.01, 5.02, 5.01, 5.00, 5.02, 5.01, 5.00, 5.01}, 2);
  CHECK_THAT(shown.readability_g, WithinAbs(0.01, 1e-9));
  CHECK(shown.scatter_g > 0.005);
  CHECK(shown.scatter_g < 0.009);
  const ScaleShown alike = scale_shown_by({5.0, 5.0, 5.0, 5.0, 5.0}, 2);
  CHECK(alike.all_alike);
  CHECK(alike.repeatability_g > 0.0);
  CHECK_THROWS_AS(scale_shown_by({5.0, 5.0}, 2), Error);
  CHECK_FALSE(shown.stray_g);
  CHECK_FALSE(alike.stray_g);
  CHECK(scale_shown_by({6.25, 6.25, 6.26, 6.25, 6.52}, 2).stray_g == 6.52);
  CHECK(scale_shown_by({6.251, 6.262, 6.248, 6.255, 6.250, 5.7}, 3).stray_g == 5.7);
}

// Scale intervals are 1, 2 or 5 times a power of ten (OIML R 76, from memory).
TEST_CASE("a scale may step by two or five in its last digit", "[plan]")
{
  CHECK_THAT(scale_shown_by({5.00, 5.05, 5.00, 5.10, 5.05}, 2).readability_g, WithinAbs(0.05, 1e-9));
  CHECK_THAT(scale_shown_by({5.00, 5.02, 5.00, 5.04, 5.02}, 2).readability_g, WithinAbs(0.02, 1e-9));
  CHECK_THAT(scale_shown_by({5.00, 5.03, 5.00, 5.06, 5.03}, 2).readability_g, WithinAbs(0.01, 1e-9));
}

// Five of 5.00 and five of 5.01 scatter by sqrt(10 x 0.005^2 / 9); the rounding has 0.01^2 / 12 of that variance.
TEST_CASE("the rounding's share is taken off the scatter of readings", "[plan]")
{
  const ScaleShown shown = scale_shown_by({5.00, 5.01, 5.00, 5.01, 5.00, 5.01, 5.00, 5.01, 5.00, 5.01}, 2);
  CHECK_THAT(shown.scatter_g, WithinAbs(std::sqrt(2.778e-5 - 0.833e-5), 1e-5));
}

// Two-sided 95 % of Student's t for 4 and 9 degrees of freedom is 2.78 and 2.26 (JCGM 100:2008, table G.2). Taken for
// the scatter itself, five readings made bands that held 92.9 % of pieces on a jeweller's scale.
TEST_CASE("what few readings of a coin tell of the scatter is widened by Student's t", "[plan]")
{
  const std::vector<double> five = {5.001, 5.004, 4.998, 5.003, 4.999};
  const ScaleShown of_five = scale_shown_by(five, 3);
  CHECK_THAT(of_five.repeatability_g / of_five.scatter_g, WithinRel(2.78 / 1.96, 0.005));
  std::vector<double> ten = five;
  ten.insert(ten.end(), five.begin(), five.end());
  const ScaleShown of_ten = scale_shown_by(ten, 3);
  CHECK_THAT(of_ten.repeatability_g / of_ten.scatter_g, WithinRel(2.26 / 1.96, 0.005));
}

// Molybdenum, 10.2 g/cm3 (CRC Handbook of Chemistry and Physics, 86th ed., section 4; from memory), lies 1.5 % below
// sterling, 10.36; copper, 8.96, far below and lead, 11.34, far above.
TEST_CASE("what a weighing cannot refuse is listed beside what it can", "[plan]")
{
  const Claim sterling = claim_called(built_in_tables(), "sterling");
  const auto look_alikes = [&](double each_g, ScaleClass scale) {
    PlannedWeighing plan;
    plan.scale = scale_of(scale);
    plan.each_g = each_g;
    return claim_look_alikes(built_in_tables(), plan, sterling);
  };
  const auto has = [](const std::vector<ClaimPower>& all, const char* key) {
    return std::any_of(all.begin(), all.end(), [&](const ClaimPower& power) {
      return power.opposite == built_in_tables().materials[material(key)].name;
    });
  };
  const std::vector<ClaimPower> spoon = look_alikes(30.0, ScaleClass::pocket);
  CHECK(has(spoon, "coin-silver"));
  CHECK(has(spoon, "molybdenum"));
  CHECK(has(spoon, "silver-830"));
  for (const ClaimPower& power : spoon) {
    CHECK(power.refused < 0.8);
  }
  for (const auto& all : {spoon, look_alikes(0.3, ScaleClass::pocket)}) {
    CHECK_FALSE(has(all, "sterling"));
    CHECK(all.size() <= 10);
  }
  CHECK_FALSE(has(spoon, "c11000"));
  CHECK_FALSE(has(spoon, "lead"));
}

// As `weigh` rules: ware that may be hollow may weigh less than its metal, filled ware anything.
TEST_CASE("a plan promises no refusal of what may be hollow", "[plan]")
{
  const Claim sterling = claim_called(built_in_tables(), "sterling");
  PlannedWeighing plan;
  plan.each_g = 40.0;
  for (const ClaimPower& power : claim_power(built_in_tables(), plan, sterling, Form::solid)) {
    CHECK_FALSE(power.innocent);
    CHECK(power.refused > 0.8);
  }
  for (const Form form : {Form::unsure, Form::hollow, Form::filled}) {
    for (const ClaimPower& power : claim_power(built_in_tables(), plan, sterling, form)) {
      CHECK(power.innocent);  // every opposite of sterling is lighter
      CHECK(power.refused == 0.0);
    }
  }
}

TEST_CASE("planned repeats scatter as the scale's noise and rounding do", "[plan]")
{
  for (const ScaleClass scale : {ScaleClass::pocket, ScaleClass::laboratory}) {
    PlannedWeighing plan;
    plan.scale = scale_of(scale);
    plan.each_g = 30.0;
    for (const int repeats : {2, 3, 10, 100}) {
      plan.repeats = repeats;
      const std::vector<double> dry = ideal_weighing(plan, 10.49).readings.dry_g;
      double squares = 0.0;
      double sum = 0.0;
      for (const double value : dry) {
        squares += (value - 30.0) * (value - 30.0);
        sum += value - 30.0;
      }
      CHECK_THAT(sum, WithinAbs(0.0, 1e-9));
      const double wanted = std::hypot(plan.scale.repeatability_g, plan.scale.readability_g / std::sqrt(12.0));
      CHECK_THAT(std::sqrt(squares / (repeats - 1)) / wanted, WithinAbs(1.0, 1e-6));
    }
  }
}

TEST_CASE("neighbours at a place are common there, one of a family, in the order of their densities", "[plan]")
{
  const Tables& t = built_in_tables();
  PlannedWeighing plan;
  plan.each_g = 5.0;
  const std::vector<Neighbours> all = neighbours_at(t, plan, "relay");
  REQUIRE(all.size() > 2);
  const Place& relay = place_called(t, "relay");
  for (std::size_t i = 0; i < all.size(); ++i) {
    const Material& lighter = t.materials[all[i].lighter];
    const Material& heavier = t.materials[all[i].heavier];
    INFO(lighter.key << " " << heavier.key);
    CHECK(typical_density_g_cm3(lighter, t.constituents) <= typical_density_g_cm3(heavier, t.constituents));
    CHECK(lighter.group != heavier.group);
    CHECK(relay.families.at(heavier.group) >= Commonness::common);
    CHECK(all[i].chance == chance_apart(t, plan, all[i].lighter, all[i].heavier));
    CHECK((i == 0 || all[i].lighter == all[i - 1].heavier));
  }
}

TEST_CASE("a plus-or-minus that is shown is never narrower than it is", "[plan]")
{
  PlanQuestion question;
  int rounded = 0;
  for (const ScaleClass scale : {ScaleClass::pocket, ScaleClass::jeweller, ScaleClass::laboratory}) {
    for (const double each_g : {1.0, 2.0, 3.3, 7.0, 11.0, 20.0}) {
      question.weighing.scale = scale_of(scale);
      question.weighing.each_g = each_g;
      const double half = expected_half_width(question.weighing, 10.49, question.level);
      const std::string text = plan_text(built_in_tables(), question);
      const std::size_t at = text.find("+- ", text.find("Your weighing"));
      REQUIRE(at != std::string::npos);
      const double shown = std::stod(text.substr(at + 3));
      INFO(each_g << " g: " << half << " shown as " << shown);
      CHECK(shown >= half);
      CHECK(shown < 1.2 * half);
      rounded += shown > 1.02 * half ? 1 : 0;
    }
  }
  CHECK(rounded > 3);
}

TEST_CASE("a chance is never said to be none or certain, nor to reach a limit that it falls short of", "[plan]")
{
  CHECK(chance_words(0.0) == "<1 %");
  CHECK(chance_words(0.00018) == "<1 %");
  CHECK(chance_words(1.0) == ">99 %");
  CHECK(chance_words(0.996) == ">99 %");
  CHECK(chance_words(0.797) == "80 %");
  CHECK(chance_words(0.797, 0.8) == "79.7 %");
  CHECK(chance_words(0.79999, 0.8) == "79.9 %");
  CHECK(chance_words(0.8, 0.8) == "80 %");
  CHECK(chance_words(0.794, 0.8) == "79 %");
  CHECK(chance_words(0.997, 0.999) == "99.7 %");
}
