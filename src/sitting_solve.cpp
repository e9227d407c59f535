#include <ceres/ceres.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <memory>

#include "sitting_design.hpp"

namespace bilancetta
{

namespace
{

constexpr int most_steps = 200;
constexpr int most_long_steps = 50;  // in a row, that would leave a piece no mass or volume

// Half the square of what this gives is half the loss of the residual: numbers that share a block, which spares most of
// the work, are held down one by one.
MisfitJet held(const ceres::LossFunction* loss, const MisfitJet& residual)
{
  const double square = residual.a * residual.a;
  constexpr double too_small = 1e-12;
  if (loss == nullptr || square < too_small) {
    return residual;
  }
  std::array<double, 3> rho{};
  loss->Evaluate(square, rho.data());
  const double part = std::sqrt(rho[0] / square);
  return {residual.a * part, residual.v * (rho[1] / part)};
}

// All numbers of a piece against what the shared errors, its mass and its volume let expect, over their uncertainties;
// then what keeps a piece that lost its readings where it was guessed.
class PieceMisfit : public ceres::CostFunction
{
 public:
  PieceMisfit(const ObservedPiece& piece, const SharedScale& scale, const std::unique_ptr<ceres::LossFunction>& loss)
      : piece_(&piece), scale_(&scale), loss_(&loss)
  {
    set_num_residuals(static_cast<int>(piece.observations.size()) + 2);
    *mutable_parameter_block_sizes() = {shared_error_count, 2};
  }

  bool Evaluate(const double* const* parameters, double* residuals, double** jacobians) const override
  {
    const double* x = parameters[1];
    if (!(x[0] > 0.0) || !(x[1] > 0.0)) {
      return false;  // the step was too long
    }
    const PieceJets jets(*piece_, *scale_, parameters[0], x);
    std::ptrdiff_t row = 0;
    const auto put = [&](const MisfitJet& residual) {
      residuals[row] = residual.a;
      if (jacobians != nullptr) {
        Eigen::Map<SharedVector>(jacobians[0] + row * shared_error_count) = residual.v.head<shared_error_count>();
        Eigen::Map<Eigen::Vector2d>(jacobians[1] + row * 2) = residual.v.tail<2>();
      }
      ++row;
    };
    for (const Observation& o : piece_->observations) {
      put(o.used ? held(loss_->get(), jets.misfit(o)) : MisfitJet(0.0));
    }
    for (int i = 0; i < 2; ++i) {
      put((MisfitJet(x[i], shared_error_count + i) - 1.0) / guess_u);
    }
    return true;
  }

 private:
  const ObservedPiece* piece_;
  const SharedScale* scale_;
  const std::unique_ptr<ceres::LossFunction>* loss_;
};

// The shared errors over their prior uncertainties.
class SharedPriors : public ceres::SizedCostFunction<shared_error_count, shared_error_count>
{
 public:
  explicit SharedPriors(const std::unique_ptr<ceres::LossFunction>& loss) : loss_(&loss) {}

  bool Evaluate(const double* const* parameters, double* residuals, double** jacobians) const override
  {
    for (std::ptrdiff_t i = 0; i < shared_error_count; ++i) {
      const MisfitJet residual = held(loss_->get(), MisfitJet(parameters[0][i], static_cast<int>(i)));
      residuals[i] = residual.a;
      if (jacobians != nullptr) {
        Eigen::Map<SharedVector>(jacobians[0] + i * shared_error_count) = residual.v.head<shared_error_count>();
      }
    }
    return true;
  }

 private:
  const std::unique_ptr<ceres::LossFunction>* loss_;
};

std::unique_ptr<ceres::LossFunction> new_loss(Loss loss)
{
  switch (loss) {
    case Loss::huber:
      return std::make_unique<ceres::HuberLoss>(huber_scale);
    case Loss::cauchy:
      return std::make_unique<ceres::CauchyLoss>(cauchy_scale);
    case Loss::none:
      break;
  }
  return nullptr;
}

ceres::Problem::Options unchecked()
{
  ceres::Problem::Options options;
  options.disable_all_safety_checks = true;  // they cost more than the blocks; every block is added once below
  return options;
}

}  // namespace

struct SittingProblem::Parts {
  std::unique_ptr<ceres::LossFunction> of_numbers, of_priors;
  std::shared_ptr<ceres::ParameterBlockOrdering> order = std::make_shared<ceres::ParameterBlockOrdering>();
  ceres::Problem problem{unchecked()};
};

SittingProblem::SittingProblem(const std::vector<ObservedPiece>& pieces, const SharedScale& scale, State& state)
    : parts_(std::make_unique<Parts>())
{
  double* z = state.z.data();
  parts_->problem.AddResidualBlock(new SharedPriors(parts_->of_priors), nullptr, z);
  parts_->order->AddElementToGroup(z, 1);
  for (std::size_t p = 0; p < pieces.size(); ++p) {
    double* x = state.x[p].data();
    parts_->problem.AddResidualBlock(new PieceMisfit(pieces[p], scale, parts_->of_numbers), nullptr, z, x);
    parts_->order->AddElementToGroup(x, 0);
  }
}

SittingProblem::~SittingProblem() = default;

bool SittingProblem::solve(Loss loss, double precision)
{
  parts_->of_numbers = new_loss(loss);
  parts_->of_priors = new_loss(loss == Loss::huber ? loss : Loss::cauchy);
  ceres::Solver::Options options;
  options.linear_solver_type = ceres::DENSE_SCHUR;  // the pieces are eliminated, the shared errors are left
  options.linear_solver_ordering = parts_->order;
  options.max_num_iterations = most_steps;
  options.max_num_consecutive_invalid_steps = most_long_steps;
  options.initial_trust_region_radius = 1e10;  // nearly linear: whole steps from the first
  options.function_tolerance = precision;
  options.gradient_tolerance = options.parameter_tolerance = 1e-14;
  options.num_threads = 1;  // more would add up in any order, and the last digits differ from run to run
  options.logging_type = ceres::SILENT;
  ceres::Solver::Summary summary;
  ceres::Solve(options, &parts_->problem, &summary);
  return summary.termination_type == ceres::CONVERGENCE;
}

}  // namespace bilancetta
