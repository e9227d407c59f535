#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "sitting_design.hpp"
#include "sitting_fit.hpp"

namespace bilancetta
{

namespace
{

constexpr double critical = 3.29;  // two-sided 0.1 %: Baarda, A testing procedure for use in geodetic networks, 1968
constexpr double alike = 0.85;     // residuals so correlated leave open which of two numbers is wrong (judgement)

// Relative fall of the cost that is left to gain: for a start, as far as moves no test, and as far as rounding tells.
constexpr double first = 1e-4, rough = 1e-6, fine = 1e-14;

// Numbers as they were found, if it may be they or others of their piece that are wrong: by piece and place in it.
using Doubts = std::map<std::pair<std::size_t, std::size_t>, CheckedReading>;

using Checked = std::vector<CheckedReading>;

template <typename List>
List joined(const std::vector<List>& parts)
{
  List all;
  for (const List& part : parts) {
    all.insert(all.end(), part.begin(), part.end());
  }
  return all;
}

// The number of a piece that fails worst, or none.
std::size_t worst_of(const std::vector<Observation>& observations, const Design& design, const PieceNormal& normal)
{
  double largest = critical;
  std::size_t worst = observations.size();
  for (std::size_t i = 0; i < observations.size(); ++i) {
    const double w = observations[i].used ? std::abs(design.checked(observations[i], normal, i).w) : 0.0;
    worst = w > largest ? i : worst;
    largest = std::max(largest, w);
  }
  return worst;
}

// All numbers that cannot be told from the worst one, and itself.
std::vector<std::size_t> suspects_of(const std::vector<Observation>& observations, const Design& plain,
                                     const PieceNormal& normal, std::size_t worst)
{
  std::vector<std::size_t> suspects;
  for (std::size_t i = 0; i < observations.size(); ++i) {
    if (i == worst || (observations[i].used && std::abs(plain.correlation(normal, worst, i)) > alike)) {
      suspects.push_back(i);
    }
  }
  return suspects;
}

// A piece that fails, and which of its numbers does so worst.
struct Failure {
  std::size_t piece, worst;
};
using Failures = std::vector<Failure>;

Failures failures_of(const Adjusted& all, const Design& design)
{
  return joined(parts_of<Failures>(all, [&](std::size_t p, PieceNormal& normal, Failures& found) {
    const auto& observations = all.pieces[p].observations;
    design.look_at(p, normal);
    if (const std::size_t worst = worst_of(observations, design, normal); worst < observations.size()) {
      found.push_back({p, worst});
    }
  }));
}

// Leaves out the worst number of every piece that fails. If others cannot be told from it, one of them is wrong by what
// was found: all are held as loosely as that instead.
bool leave_out_worst(Adjusted& all, const State& state, Loss loss, Doubts& doubts)
{
  const Design robust(all, state, loss);
  const Failures failures = failures_of(all, robust);
  if (failures.empty()) {
    return false;
  }
  const Design plain(all, state, Loss::none);
  PieceNormal of_robust, of_plain;
  for (const auto& [p, worst] : failures) {
    auto& observations = all.pieces[p].observations;
    robust.look_at(p, of_robust);
    plain.look_at(p, of_plain);
    const std::vector<std::size_t> suspects = suspects_of(observations, plain, of_plain, worst);
    const CheckedReading found = robust.checked(observations[worst], of_robust, worst);
    const double times = std::max(std::abs(found.off) / observations[worst].u, 1.0);
    const bool again = doubts.count({p, worst}) > 0;  // loosened already, and still too far off
    if (suspects.size() == 1 || again) {
      observations[worst].used = false;
      continue;
    }
    for (const std::size_t i : suspects) {
      Observation& o = observations[i];
      CheckedReading doubt = robust.checked(o, of_robust, i);
      doubt.w = std::copysign(found.w, doubt.w);
      doubt.flagged = doubt.one_of_several = true;
      doubts.try_emplace({p, i}, doubt);
      o.u *= times;
    }
  }
  return true;
}

Checked checked_readings(const Adjusted& all, const Design& design, const Doubts& doubts)
{
  return joined(parts_of<Checked>(all, [&](std::size_t p, PieceNormal& normal, Checked& checked) {
    const auto& observations = all.pieces[p].observations;
    design.look_at(p, normal);
    for (std::size_t i = 0; i < observations.size(); ++i) {
      const auto doubt = doubts.find({p, i});
      checked.push_back(doubt != doubts.end() && observations[i].used ? doubt->second
                                                                      : design.checked(observations[i], normal, i));
    }
  }));
}

}  // namespace

void adjust_together(std::vector<ObservedPiece> pieces, SittingResult& result, int threads)
{
  Adjusted all{std::move(pieces), {}, threads};
  for (int i = 0; i < shared_error_count; ++i) {
    all.scale[i] = result.shared[i].prior_u;
  }
  State state;
  state.x.assign(all.pieces.size(), {1.0, 1.0});
  solve(all, state, Loss::huber, first);
  Doubts doubts;
  Loss loss = Loss::cauchy;
  constexpr int most_rounds = 30;
  result.converged = false;
  for (int round = 0; round < most_rounds; ++round) {
    const bool at_rest = solve(all, state, loss, loss == Loss::none ? fine : rough);
    const bool changed = leave_out_worst(all, state, loss, doubts);
    if (!changed && loss == Loss::none) {
      result.converged = at_rest;
      break;
    }
    loss = changed ? loss : Loss::none;  // nothing is left that a robust loss would have to hold down
  }
  const Design design(all, state, Loss::none);
  const SharedMatrix& covariance = design.covariance();
  for (int i = 0; i < shared_error_count; ++i) {
    result.shared[i].value = state.z[i] * all.scale[i];
    result.shared[i].standard_uncertainty = std::sqrt(covariance(i, i)) * all.scale[i];
    for (int j = 0; j < shared_error_count; ++j) {
      result.covariance(i, j) = covariance(i, j) * all.scale[i] * all.scale[j];
    }
  }
  result.readings = checked_readings(all, design, doubts);
  result.dark_u_g = dark_u_of(result.readings);
}

}  // namespace bilancetta
