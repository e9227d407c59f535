#include <ceres/ceres.h>

#include <memory>

#include "sitting_design.hpp"

namespace bilancetta
{

namespace
{

constexpr int most_steps = 200;
constexpr int most_long_steps = 50;  // in a row, that would leave a piece no mass or volume

// A number of a piece against what the shared errors, its mass and its volume let expect, over its uncertainty.
struct Misfit {
  const Observation& observation;
  const ObservedPiece& piece;
  const SharedScale& scale;

  template <typename T>
  bool operator()(const T* z, const T* x, T* residual) const
  {
    if (!(x[0] > 0.0) || !(x[1] > 0.0)) {
      return false;  // the step was too long
    }
    if (!observation.used) {
      residual[0] = T(0.0);
      return true;
    }
    T shared[shared_error_count];
    for (int i = 0; i < shared_error_count; ++i) {
      shared[i] = z[i] * scale[i];
    }
    const T expected = observation.expected(shared, T(x[0] * piece.mass_g), T(x[1] * piece.volume_cm3));
    residual[0] = (expected - observation.value) / observation.u;
    return true;
  }
};

// One of the shared errors over its prior uncertainty.
struct SharedPrior {
  int error;

  template <typename T>
  bool operator()(const T* z, T* residual) const
  {
    residual[0] = z[error];
    return true;
  }
};

// Keeps a piece that lost its readings where it was guessed.
struct Hold {
  template <typename T>
  bool operator()(const T* x, T* residual) const
  {
    residual[0] = (x[0] - 1.0) / guess_u;
    residual[1] = (x[1] - 1.0) / guess_u;
    return true;
  }
};

ceres::LossFunction* new_loss(Loss loss)
{
  switch (loss) {
    case Loss::huber:
      return new ceres::HuberLoss(huber_scale);
    case Loss::cauchy:
      return new ceres::CauchyLoss(cauchy_scale);
    case Loss::none:
      break;
  }
  return nullptr;
}

ceres::Problem::Options shared_losses()
{
  ceres::Problem::Options options;
  options.loss_function_ownership = ceres::DO_NOT_TAKE_OWNERSHIP;
  options.disable_all_safety_checks = true;  // they cost more than the blocks; every block is added once below
  return options;
}

}  // namespace

struct SittingProblem::Parts {
  ceres::LossFunctionWrapper of_numbers{nullptr, ceres::TAKE_OWNERSHIP};
  ceres::LossFunctionWrapper of_priors{nullptr, ceres::TAKE_OWNERSHIP};
  std::shared_ptr<ceres::ParameterBlockOrdering> order = std::make_shared<ceres::ParameterBlockOrdering>();
  ceres::Problem problem{shared_losses()};
};

SittingProblem::SittingProblem(const std::vector<ObservedPiece>& pieces, const SharedScale& scale, State& state)
    : parts_(std::make_unique<Parts>())
{
  ceres::Problem& problem = parts_->problem;
  double* z = state.z.data();
  for (int i = 0; i < shared_error_count; ++i) {
    problem.AddResidualBlock(new ceres::AutoDiffCostFunction<SharedPrior, 1, shared_error_count>(new SharedPrior{i}),
                             &parts_->of_priors, z);
  }
  parts_->order->AddElementToGroup(z, 1);
  for (std::size_t p = 0; p < pieces.size(); ++p) {
    double* x = state.x[p].data();
    problem.AddResidualBlock(new ceres::AutoDiffCostFunction<Hold, 2, 2>(new Hold), nullptr, x);
    parts_->order->AddElementToGroup(x, 0);
    for (const Observation& o : pieces[p].observations) {
      problem.AddResidualBlock(
          new ceres::AutoDiffCostFunction<Misfit, 1, shared_error_count, 2>(new Misfit{o, pieces[p], scale}),
          &parts_->of_numbers, z, x);
    }
  }
}

SittingProblem::~SittingProblem() = default;

bool SittingProblem::solve(Loss loss, double precision)
{
  parts_->of_numbers.Reset(new_loss(loss), ceres::TAKE_OWNERSHIP);
  parts_->of_priors.Reset(new_loss(loss == Loss::huber ? loss : Loss::cauchy), ceres::TAKE_OWNERSHIP);
  ceres::Solver::Options options;
  options.linear_solver_type = ceres::DENSE_SCHUR;  // the pieces are eliminated, the shared errors are left
  options.linear_solver_ordering = parts_->order;
  options.max_num_iterations = most_steps;
  options.max_num_consecutive_invalid_steps = most_long_steps;
  options.function_tolerance = precision;
  options.gradient_tolerance = options.parameter_tolerance = 1e-14;
  options.num_threads = 1;  // more would add up in any order, and the last digits differ from run to run
  options.logging_type = ceres::SILENT;
  ceres::Solver::Summary summary;
  ceres::Solve(options, &parts_->problem, &summary);
  return summary.termination_type == ceres::CONVERGENCE;
}

}  // namespace bilancetta
