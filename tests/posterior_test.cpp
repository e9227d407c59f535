#include "bilancetta/posterior.hpp"

#include <fmt/core.h>
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <random>

#include "draws.hpp"
#include "limited_threads.hpp"
#include "referee.hpp"
#include "started_threads.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace
{

int material(const char* key)
{
  return find_material(built_in_tables(), key);
}

int build_row_with(Build build, const char* outer, const char* inner)
{
  const Tables& tables = built_in_tables();
  for (std::size_t i = 0; i < tables.builds.size(); ++i) {
    const BuildRow& row = tables.builds[i];
    const auto has = [](const std::vector<int>& all, int one) {
      return std::find(all.begin(), all.end(), one) != all.end();
    };
    if (row.build == build && has(row.outer, material(outer)) && has(row.inner, material(inner))) {
      return static_cast<int>(i);
    }
  }
  FAIL("no such pairing in the tables");
  return -1;
}

Hypothesis layered(Build build, const char* outer, const char* inner)
{
  return layered_hypothesis(built_in_tables(), build_row_with(build, outer, inner), material(outer), material(inner),
                            {0.1, {}});
}

struct Case {
  const char* name;
  Hypothesis hypothesis;
  std::vector<double> densities;
};

std::vector<Case> cases()
{
  const Tables& tables = built_in_tables();
  return {{"solid sterling", solid_hypothesis(tables, material("sterling")), {10.36, 10.30}},
          {"solid silver-tungsten", solid_hypothesis(tables, material("ag-w-60")), {14.3, 13.9}},
          {"silver plate on brass", layered(Build::plated, "fine-silver", "c26000"), {8.55, 8.75}},
          {"silver-cadmium-oxide face on copper", layered(Build::inlay, "ag-cdo-10", "c11000"), {9.2, 9.8}},
          {"open mix", open_mix_hypothesis(tables), {10.36}}};
}

}  // namespace

TEST_CASE("tables agree with brute force in evidence and bands", "[posterior][referee]")
{
  const Tables& tables = built_in_tables();
  const std::vector<int> silver = {find_constituent(tables, "Ag")};
  const std::vector<double> uncertainties = {0.003, 0.03, 0.3};
  unsigned seed = 1;
  for (const Case& one : cases()) {
    const Member member = member_of(tables, one.hypothesis, Member::Serves::both);
    for (const double density : one.densities) {
      const auto all = referee::brute_force(one.hypothesis, density, uncertainties, silver, seed++);
      for (std::size_t k = 0; k < all.size(); ++k) {
        const referee::BruteAnswer& brute = all[k];
        const referee::Answer ours = referee::by_tables(member, density, uncertainties[k], silver);
        const referee::Ends batch = referee::silver_as_in_batches(member, density, uncertainties[k]);
        INFO(fmt::format("{} at {} +- {}: evidence {:.5g} against {:.5g}", one.name, density, uncertainties[k],
                         ours.evidence, brute.evidence));
        REQUIRE(brute.effective_draws >= 40000.0);
        CHECK_THAT(ours.evidence, WithinRel(brute.evidence, 0.05));
        for (const referee::Ends& ends : {ours.bands[0], batch}) {
          CHECK_THAT(ends.low, WithinAbs(brute.bands[0].low, 0.01));
          CHECK_THAT(ends.high, WithinAbs(brute.bands[0].high, 0.01));
        }
      }
    }
  }
}

// The referee's own draws are made where the reading is; here is one without any such thing.
TEST_CASE("brute force agrees with plain random draws", "[posterior][referee]")
{
  const int silver = find_constituent(built_in_tables(), "Ag");
  for (const Case& one : cases()) {
    constexpr double u = 0.1;
    const double density = one.densities.back();
    std::mt19937_64 random(7);
    std::normal_distribution<double> normal;
    std::vector<std::pair<double, double>> kept;  // fraction, weight
    double sum = 0.0;
    double squares = 0.0;
    constexpr int draws = 400000;
    for (int i = 0; i < draws; ++i) {
      double z[max_variables] = {};
      for (int k = 0; k < one.hypothesis.variables; ++k) {
        z[k] = normal(random);
      }
      const Outcome<double> outcome = one.hypothesis.evaluate(z);
      const double off = (outcome.density * std::exp(one.hypothesis.scatter * normal(random)) - density) / u;
      const double weight = std::exp(-0.5 * off * off);
      sum += weight;
      squares += weight * weight;
      kept.emplace_back(fraction_of(one.hypothesis, outcome, silver), weight);
    }
    std::sort(kept.begin(), kept.end());
    double passed = 0.0;
    const auto above_low = std::find_if(
        kept.begin(), kept.end(), [&](const auto& one_draw) { return (passed += one_draw.second) >= 0.025 * sum; });
    const auto brute = referee::brute_force(one.hypothesis, density, {u}, {silver}, 8);
    INFO(one.name);
    // Four standard errors of both; the ends of bands are looked at where plain draws are many.
    const double error = 4.0 * std::sqrt(squares / (sum * sum) + 1.0 / 40000.0);
    CHECK_THAT(brute[0].evidence, WithinRel(sum / draws, error));
    if (sum * sum / squares > 10000.0) {
      CHECK_THAT(brute[0].bands[0].low, WithinAbs(above_low->first, 0.01));
    }
  }
}

TEST_CASE("a predicted density is a distribution", "[posterior]")
{
  const Tables& tables = built_in_tables();
  for (const Case& one : cases()) {
    const Member member = member_of(tables, one.hypothesis, Member::Serves::verdicts);
    double total = 0.0;
    for (std::size_t i = 0; i < member.predicted.value.size(); ++i) {
      total += member.predicted.value[i] * density_grid::spacing *
               density_grid::density_at(member.predicted.first + static_cast<int>(i));
    }
    CHECK_THAT(total, WithinAbs(1.0, 1e-3));
  }
}

TEST_CASE("prior mass stays with builds and families when grades are added", "[posterior]")
{
  // Ten more grades of silver-cadmium oxide, each a copy under another key, move neither P(build) nor P(family).
  Tables tables = built_in_tables();
  const auto shares = [](const Tables& all) {
    const Prepared prepared(all, PieceSize{0.1, {}});
    Context context;
    context.place = "breaker";
    const auto& members = prepared.members(0.1);
    const std::vector<double> prior = prior_of(all, members, context);
    std::array<double, 5> result{};
    for (std::size_t i = 0; i < prior.size(); ++i) {
      const Hypothesis& h = members[i]->hypothesis;
      result[static_cast<int>(h.build)] += prior[i];
      const bool cadmium = h.kind == Kind::solid && all.materials[h.outer_material].group == "silver-cadmium-oxide";
      result[4] += cadmium ? prior[i] : 0.0;
    }
    return result;
  };
  const auto before = shares(tables);
  for (int i = 0; i < 10; ++i) {
    Material grade = tables.materials[material("ag-cdo-10")];
    grade.key += "-again-" + std::to_string(i);
    tables.materials.push_back(grade);
  }
  const auto after = shares(tables);
  for (int k = 0; k < 5; ++k) {
    CHECK_THAT(after[k], WithinAbs(before[k], 1e-12));
  }
}

TEST_CASE("no more threads tabulate than are asked for, and fewer where the system starts fewer", "[posterior]")
{
  const Tables& tables = built_in_tables();
  const auto started = [&](int threads) {
    const testing::LimitedThreads counted;
    const Prepared prepared(tables, PieceSize{0.1, {}}, threads);
    return testing::LimitedThreads::started();
  };
  CHECK(started(1) == 0);
  const int helpers = std::min(3, thread_count(0)) - 1;
  CHECK(started(3) == 2 * helpers);  // for what bears no coat and for what bears one
  const Prepared usual(tables, PieceSize{0.1, {}}, 2);
  const testing::LimitedThreads none(0);
  const Prepared alone(tables, PieceSize{0.1, {}}, 5);
  CHECK(testing::LimitedThreads::started() == 0);
  REQUIRE(alone.members(0.1).size() == usual.members(0.1).size());
  for (std::size_t i = 0; i < alone.members(0.1).size(); ++i) {
    CHECK(alone.members(0.1)[i]->predicted.value == usual.members(0.1)[i]->predicted.value);
  }
}

TEST_CASE("every hypothesis has some prior everywhere", "[posterior]")
{
  const Tables& tables = built_in_tables();
  const Prepared prepared(tables, PieceSize{0.1, {}});
  for (const Place& place : tables.places) {
    Context context;
    context.place = place.key;
    context.form = Form::unsure;
    const std::vector<double> prior = prior_of(tables, prepared.members(0.1), context);
    CHECK_THAT(std::accumulate(prior.begin(), prior.end(), 0.0), WithinAbs(1.0, 1e-9));
    CHECK(*std::min_element(prior.begin(), prior.end()) > 0.0);
  }
}

// Docs/method.md section 8.
TEST_CASE("what form leaves out is shared out among all that stays", "[posterior]")
{
  const Tables& tables = built_in_tables();
  const Prepared prepared(tables, PieceSize{0.1, {}});
  const Members& members = prepared.members(0.1);
  const auto of_form = [&](Form form) {
    Context context;
    context.place = "contactor";
    context.form = form;
    return prior_of(tables, members, context);
  };
  const std::vector<double> unsure = of_form(Form::unsure);
  const std::vector<double> solid = of_form(Form::solid);
  const std::vector<double> hollow = of_form(Form::hollow);
  double left_out = 0.0;
  for (std::size_t i = 0; i < members.size(); ++i) {
    left_out += members[i]->hypothesis.kind == Kind::hollow ? unsure[i] : 0.0;
  }
  CHECK(left_out > 0.001);
  for (std::size_t i = 0; i < members.size(); ++i) {
    const Kind kind = members[i]->hypothesis.kind;
    CHECK_THAT(solid[i], WithinAbs(kind == Kind::hollow ? 0.0 : unsure[i] / (1.0 - left_out), 1e-12));
    CHECK((hollow[i] > 0.0) == (kind == Kind::hollow || kind == Kind::open_mix));
  }
}

// Docs/method.md section 8: a family that a place knows as a coat only weighs 0.1 as a whole piece, as one that it does
// not name, against 1 for a rare one; as a coat it keeps its weight.
TEST_CASE("a coat is hardly expected as a whole piece", "[posterior]")
{
  Tables tables = built_in_tables();
  const MemberGroup group(std::vector<Member>{
      member_of(tables, solid_hypothesis(tables, material("chromium")), Member::Serves::verdicts),
      member_of(tables, solid_hypothesis(tables, material("sterling")), Member::Serves::verdicts),
      member_of(tables, layered(Build::plated, "chromium", "c26000"), Member::Serves::verdicts),
      member_of(tables, layered(Build::plated, "fine-silver", "c26000"), Member::Serves::verdicts)});
  const Members members({&group});
  Context context;
  context.place = "jewellery";
  Place& place =
      *std::find_if(tables.places.begin(), tables.places.end(), [](const Place& p) { return p.key == "jewellery"; });
  place.coats_only = {"chromium"};
  const std::vector<double> coat = prior_of(tables, members, context);
  place.coats_only.clear();
  const std::vector<double> any = prior_of(tables, members, context);
  CHECK_THAT(coat[0] / coat[1], WithinRel(0.1 * any[0] / any[1], 1e-9));
  CHECK_THAT(coat[2] / coat[3], WithinRel(any[2] / any[3], 1e-9));
}

// By the same section: nor as a core or carrier, to which a coat or face of another family goes as before.
TEST_CASE("a coat is hardly expected as a core", "[posterior]")
{
  Tables tables = built_in_tables();
  const Member brass = member_of(tables, layered(Build::plated, "fine-silver", "c26000"), Member::Serves::verdicts);
  const Member copper = member_of(tables, layered(Build::plated, "fine-silver", "c11000"), Member::Serves::verdicts);
  const MemberGroup group(std::vector<Member>{brass, copper});
  const Members members({&group});
  Context context;
  context.place = "connector";
  Place& place =
      *std::find_if(tables.places.begin(), tables.places.end(), [](const Place& p) { return p.key == "connector"; });
  place.coats_only.clear();
  const std::vector<double> any = prior_of(tables, members, context);
  place.coats_only = {"brass"};
  const std::vector<double> coat = prior_of(tables, members, context);
  const double less = weight_of(Commonness::absent) / weight_of(place.families.at("brass"));
  REQUIRE(less < 0.1);
  CHECK_THAT(coat[0] / coat[1], WithinRel(less * any[0] / any[1], 1e-9));
  place.coats_only = {"silver"};  // the coat
  CHECK_THAT(prior_of(tables, members, context)[0], WithinRel(any[0], 1e-9));
}

// Docs/method.md section 8: rows of copper say nothing of tableware, those of brass do.
TEST_CASE("rows of a family that a place says nothing of are as common as anywhere", "[posterior]")
{
  const Tables& tables = built_in_tables();
  std::vector<Member> solids;
  for (const char* key : {"c11000", "c16200", "c26000", "c22000"}) {
    solids.push_back(member_of(tables, solid_hypothesis(tables, material(key)), Member::Serves::verdicts));
  }
  const MemberGroup group(std::move(solids));
  const Members members({&group});
  const auto prior_at = [&](const char* place) {
    Context context;
    context.place = place;
    return prior_of(tables, members, context);
  };
  const std::vector<double> unknown = prior_at("unknown");
  const std::vector<double> tableware = prior_at("tableware");
  REQUIRE(unknown[0] / unknown[1] > 5.0);
  CHECK_THAT(tableware[0] / tableware[1], WithinRel(unknown[0] / unknown[1], 1e-9));
  CHECK(std::abs(tableware[2] / tableware[3] / (unknown[2] / unknown[3]) - 1.0) > 0.1);
}

TEST_CASE("the fewest members that cover are those that sorting would choose", "[posterior]")
{
  std::mt19937_64 random(8);
  for (int jar = 0; jar < 300; ++jar) {
    const double spread = std::uniform_real_distribution<double>(0.1, 12.0)(random);
    std::vector<double> posterior(std::uniform_int_distribution<std::size_t>(1, 700)(random));
    double total = 0.0;
    for (double& p : posterior) {
      p = jar % 10 == 0 ? 1.0 : std::exp(spread * std::normal_distribution<double>()(random));
      total += p;
    }
    for (double& p : posterior) {
      p /= total;
    }
    const double coverage = jar % 2 == 0 ? 0.998 : 0.99999;
    std::vector<int> sorted = likeliest_of(posterior, coverage);
    std::vector<int> fewest = fewest_covering(posterior, coverage);
    REQUIRE(fewest.size() == sorted.size());
    CHECK(fewest.front() == sorted.front());
    const auto sum_over = [&](const std::vector<int>& members) {
      return std::accumulate(members.begin(), members.end(), 0.0,
                             [&](double sum, int i) { return sum + posterior[i]; });
    };
    CHECK(sum_over(fewest) >= coverage * (1.0 - 1e-9));
    CHECK_THAT(sum_over(fewest), WithinRel(sum_over(sorted), 1e-6));
  }
  CHECK(fewest_covering({}, 0.998).empty());
  CHECK(fewest_covering({0.0, 0.0}, 0.998).empty());
}
