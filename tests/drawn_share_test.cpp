#include "bilancetta/drawn_share.hpp"

#include <algorithm>
#include <cmath>
#include <thread>

#include "bilancetta/analysis.hpp"
#include "bilancetta/members.hpp"
#include "referee.hpp"
#include "support.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;

namespace
{

int silver()
{
  return find_constituent(built_in_tables(), "Ag");
}

// Mean and standard deviation of the silver of an alloy of one variable: sums over z, each weighed by N(z; 0, 1) and
// the normal error of reading and scatter together.
ShareMoments by_sums(const Hypothesis& h, double read, double u)
{
  const double sd = std::hypot(u, h.scatter * read);
  double total = 0.0;
  double sum = 0.0;
  double squares = 0.0;
  for (int step = -6000; step <= 6000; ++step) {
    const double z = 0.001 * step;
    const Outcome<double> outcome = h.evaluate(&z);
    const double share = fraction_of(h, outcome, silver());
    const double off = (outcome.density - read) / sd;
    const double weight = std::exp(-0.5 * (z * z + off * off));
    total += weight;
    sum += weight * share;
    squares += weight * share * share;
  }
  const double mean = sum / total;
  return {mean, std::sqrt(std::max(squares / total - mean * mean, 0.0))};
}

}  // namespace

// A weighted mean by the trapezoidal rule, with none of the library's draws, lines or grids.
TEST_CASE("a drawn share is what sums over the composition give", "[drawn_share]")
{
  int alloys = 0;
  for (int material = 0; material < static_cast<int>(built_in_tables().materials.size()); ++material) {
    const Hypothesis h = solid_hypothesis(built_in_tables(), material);
    if (h.variables != 1 || !holds(h, silver())) {
      continue;
    }
    ++alloys;
    const double typical = 0.0;
    const double middle = h.evaluate(&typical).density;
    const Member member = member_of(built_in_tables(), h, Member::Serves::rows);
    for (const double u : {0.02, 0.1}) {
      for (const double off : {-1.0, 0.0, 1.5}) {
        const double read = middle + off * std::hypot(u, h.scatter * middle);
        CAPTURE(built_in_tables().materials[material].key, u, off);
        const DensityCurve curve = referee::gaussian_curve(read, u);
        const ShareMoments moments =
            member.silver.table().moments(ShareTable::weights_of(curve, evidence_weights_of(curve), 20));
        const ShareMoments expected = by_sums(h, read, u);
        const double along = drawn_out(expected.mean);
        const double half_a_bin = 2.0 * std::min(along, 1.0 - along) / ShareTable::bins;
        CHECK_THAT(moments.mean, WithinAbs(expected.mean, half_a_bin));
        CHECK_THAT(moments.sd, WithinAbs(expected.sd, 2.0 * half_a_bin));
      }
    }
  }
  CHECK(alloys >= 20);
}

TEST_CASE("a drawn share is tabulated once, for its copies and for every thread", "[drawn_share]")
{
  const Hypothesis h = solid_hypothesis(built_in_tables(), find_material(built_in_tables(), "silver-800"));
  const Member member = member_of(built_in_tables(), h, Member::Serves::rows);
  const DrawnShare copy = member.silver;
  std::vector<const ShareTable*> seen(4, nullptr);
  {
    std::vector<std::jthread> threads;
    for (std::size_t i = 0; i < seen.size(); ++i) {
      threads.emplace_back([&, i] { seen[i] = &(i % 2 == 0 ? member.silver : copy).table(); });
    }
  }
  CHECK(std::count(seen.begin(), seen.end(), &copy.table()) == 4);
  CHECK_FALSE(copy.table().empty());
  CHECK(member_of(built_in_tables(), h, Member::Serves::verdicts).silver.table().empty());
}
