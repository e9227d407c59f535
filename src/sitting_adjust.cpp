#include <ceres/ceres.h>

#include <algorithm>
#include <cmath>

#include "sitting_design.hpp"

namespace bilancetta
{

namespace
{

constexpr double critical = 3.29;  // two-sided 0.1 %: Baarda, A testing procedure for use in geodetic networks, 1968
constexpr double alike = 0.85;     // residuals so correlated leave open which of two numbers is wrong (judgement)

// Holds each of N values at a mean with a relative uncertainty.
template <int N>
struct Held {
  double mean, u;
  template <typename T>
  bool operator()(const T* x, T* residual) const
  {
    for (int i = 0; i < N; ++i) {
      residual[i] = (x[i] - mean) / u;
    }
    return true;
  }
};

struct HeldOne {
  int which;
  template <typename T>
  bool operator()(const T* z, T* residual) const
  {
    residual[0] = z[which];
    return true;
  }
};

ceres::LossFunction* loss_function(Loss loss)
{
  switch (loss) {
    case Loss::huber:
      return new ceres::HuberLoss(1.345);
    case Loss::cauchy:
      return new ceres::CauchyLoss(cauchy_scale);
    case Loss::none:
      break;
  }
  return nullptr;
}

// The shared errors' own priors are always robust: a tare is seldom off, but when it is, it may be by anything.
void solve(const std::vector<ObservedPiece>& pieces, const SharedScale& scale, Loss loss, State& state)
{
  ceres::Problem problem;
  for (int i = 0; i < shared_error_count; ++i) {
    problem.AddResidualBlock(new ceres::AutoDiffCostFunction<HeldOne, 1, shared_error_count>(new HeldOne{i}),
                             loss_function(loss == Loss::huber ? loss : Loss::cauchy), state.z.data());
  }
  for (std::size_t p = 0; p < pieces.size(); ++p) {
    double* x = state.x[p].data();
    problem.AddResidualBlock(new ceres::AutoDiffCostFunction<Held<2>, 2, 2>(new Held<2>{1.0, guess_u}), nullptr, x);
    for (const Observation& o : pieces[p].observations) {
      if (o.used) {
        problem.AddResidualBlock(
            new ceres::AutoDiffCostFunction<Residual, 1, shared_error_count, 2>(new Residual{&o, &scale, &pieces[p]}),
            loss_function(loss), state.z.data(), x);
      }
    }
  }
  ceres::Solver::Options options;
  options.linear_solver_type = ceres::DENSE_SCHUR;  // pieces are eliminated, four shared errors are left
  options.max_num_iterations = 100;
  options.function_tolerance = 1e-14;
  options.gradient_tolerance = 1e-9;
  options.parameter_tolerance = 1e-12;
  options.logging_type = ceres::SILENT;
  ceres::Solver::Summary summary;
  ceres::Solve(options, &problem, &summary);
}

// The number of a piece that fails worst, or none.
std::size_t worst_of(const std::vector<Observation>& observations, const Design& design, std::size_t piece)
{
  double largest = critical;
  std::size_t worst = observations.size();
  for (std::size_t i = 0; i < observations.size(); ++i) {
    const double w = observations[i].used ? std::abs(design.checked(observations[i], piece, i).w) : 0.0;
    worst = w > largest ? i : worst;
    largest = std::max(largest, w);
  }
  return worst;
}

// Leaves out the worst number of every piece that fails. If others cannot be told from it, one of them is wrong by what
// was found: all are held as loosely as that instead.
bool leave_out_worst(std::vector<ObservedPiece>& pieces, const Design& robust, const Design& plain)
{
  bool any = false;
  for (std::size_t p = 0; p < pieces.size(); ++p) {
    auto& observations = pieces[p].observations;
    const std::size_t worst = worst_of(observations, robust, p);
    if (worst == observations.size()) {
      continue;
    }
    any = true;
    std::vector<std::size_t> suspects;
    for (std::size_t i = 0; i < observations.size(); ++i) {
      if (i == worst || (observations[i].used && std::abs(plain.correlation(p, worst, i)) > alike)) {
        suspects.push_back(i);
      }
    }
    const CheckedReading found = robust.checked(observations[worst], p, worst);
    const double times = std::max(std::abs(found.off) / observations[worst].u, 1.0);
    const bool again = observations[worst].doubt.has_value();  // loosened already, and still too far off
    if (suspects.size() == 1 || again) {
      observations[worst].used = false;
      continue;
    }
    for (const std::size_t i : suspects) {
      Observation& o = observations[i];
      CheckedReading doubt = robust.checked(o, p, i);
      doubt.w = std::copysign(found.w, doubt.w);
      doubt.flagged = doubt.one_of_several = true;
      o.doubt = o.doubt ? o.doubt : doubt;
      o.u *= times;
    }
  }
  return any;
}

}  // namespace

void adjust_together(std::vector<ObservedPiece> pieces, SittingResult& result)
{
  SharedScale scale{};
  for (int i = 0; i < shared_error_count; ++i) {
    scale[i] = result.shared[i].prior_u;
  }
  State state;
  state.x.assign(pieces.size(), {1.0, 1.0});
  solve(pieces, scale, Loss::huber, state);
  Loss loss = Loss::cauchy;
  constexpr int most_rounds = 30;
  for (int round = 0; round < most_rounds; ++round) {
    solve(pieces, scale, loss, state);
    const bool changed =
        leave_out_worst(pieces, Design(pieces, scale, state, loss), Design(pieces, scale, state, Loss::none));
    if (!changed && loss == Loss::none) {
      break;
    }
    loss = changed ? loss : Loss::none;  // nothing is left that a robust loss would have to hold down
  }
  const Design design(pieces, scale, state, Loss::none);
  const SharedMatrix& covariance = design.covariance();
  for (int i = 0; i < shared_error_count; ++i) {
    result.shared[i].value = state.z[i] * scale[i];
    result.shared[i].standard_uncertainty = std::sqrt(covariance(i, i)) * scale[i];
    for (int j = 0; j < shared_error_count; ++j) {
      result.covariance(i, j) = covariance(i, j) * scale[i] * scale[j];
    }
  }
  for (std::size_t p = 0; p < pieces.size(); ++p) {
    for (std::size_t i = 0; i < pieces[p].observations.size(); ++i) {
      const Observation& o = pieces[p].observations[i];
      result.readings.push_back(o.doubt && o.used ? *o.doubt : design.checked(o, p, i));
    }
  }
}

}  // namespace bilancetta
