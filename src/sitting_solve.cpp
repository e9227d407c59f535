#include <ceres/ceres.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <memory>
#include <numeric>

#include "sitting_design.hpp"

namespace bilancetta
{

namespace
{

constexpr int most_steps = 200;

// Half the square of what this gives is half the loss of the residual: numbers that share a block are held down one by
// one. With it goes the factor of the residual's derivatives.
struct Held {
  double residual, factor;
};
Held held(const ceres::LossFunction* loss, double residual)
{
  const double square = residual * residual;
  constexpr double too_small = 1e-12;
  if (loss == nullptr || square < too_small) {
    return {residual, 1.0};
  }
  std::array<double, 3> rho{};
  loss->Evaluate(square, rho.data());
  const double part = std::sqrt(rho[0] / square);
  return {residual * part, rho[1] / part};
}

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

// All numbers against what the shared errors let expect, over their uncertainties, the mass and volume of each piece
// being those that fit best; then what keeps a piece that lost its readings where it was guessed.
class Misfits : public ceres::CostFunction
{
 public:
  Misfits(const std::vector<ObservedPiece>& pieces, const SharedScale& scale, State& state, Loss loss)
      : pieces_(&pieces), scale_(&scale), state_(&state), loss_(loss), of_numbers_(new_loss(loss))
  {
    const auto count = [](int n, const ObservedPiece& piece) {
      return n + static_cast<int>(piece.observations.size()) + 2;
    };
    set_num_residuals(std::accumulate(pieces.begin(), pieces.end(), 0, count));
    mutable_parameter_block_sizes()->push_back(shared_error_count);
  }

  bool Evaluate(const double* const* parameters, double* residuals, double** jacobians) const override
  {
    double* slopes = jacobians != nullptr ? jacobians[0] : nullptr;
    const auto put = [&](double residual, const SharedVector& slope) {
      *residuals++ = residual;
      if (slopes != nullptr) {
        Eigen::Map<SharedVector>{slopes} = slope;
        slopes += shared_error_count;
      }
    };
    SharedScale z{};
    std::copy_n(parameters[0], z.size(), z.begin());
    PieceNormal normal;
    for (std::size_t p = 0; p < pieces_->size(); ++p) {
      const ObservedPiece& piece = (*pieces_)[p];
      auto& x = state_->x[p];
      normal.settle(piece, *scale_, z, x, loss_);
      for (std::size_t i = 0; i < normal.lines.size(); ++i) {
        const PieceNormal::Linear& line = normal.lines[i];
        const Held number = held(of_numbers_.get(), piece.observations[i].used ? line.residual : 0.0);
        const double factor = piece.observations[i].used ? number.factor : 0.0;
        put(number.residual, factor * normal.of_shared_alone(line));
      }
      for (int i = 0; i < 2; ++i) {
        put((x[i] - 1.0) / guess_u, -normal.pull.row(i).transpose() / guess_u);
      }
    }
    return true;
  }

 private:
  const std::vector<ObservedPiece>* pieces_;
  const SharedScale* scale_;
  State* state_;
  Loss loss_;
  std::unique_ptr<ceres::LossFunction> of_numbers_;
};

// The shared errors over their prior uncertainties.
class SharedPriors : public ceres::SizedCostFunction<shared_error_count, shared_error_count>
{
 public:
  explicit SharedPriors(Loss loss) : loss_(new_loss(loss)) {}

  bool Evaluate(const double* const* parameters, double* residuals, double** jacobians) const override
  {
    SharedMatrix slopes = SharedMatrix::Zero();
    for (int i = 0; i < shared_error_count; ++i) {
      const Held prior = held(loss_.get(), parameters[0][i]);
      residuals[i] = prior.residual;
      slopes(i, i) = prior.factor;
    }
    if (jacobians != nullptr) {
      Eigen::Map<SharedMatrix>{jacobians[0]} = slopes;  // a diagonal is alike by rows and by columns
    }
    return true;
  }

 private:
  std::unique_ptr<ceres::LossFunction> loss_;
};

}  // namespace

bool solve(const std::vector<ObservedPiece>& pieces, const SharedScale& scale, State& state, Loss loss,
           double precision)
{
  ceres::Problem problem;
  problem.AddResidualBlock(new SharedPriors(loss == Loss::huber ? loss : Loss::cauchy), nullptr, state.z.data());
  problem.AddResidualBlock(new Misfits(pieces, scale, state, loss), nullptr, state.z.data());
  ceres::Solver::Options options;
  options.linear_solver_type = ceres::DENSE_QR;
  options.max_num_iterations = most_steps;
  options.initial_trust_region_radius = 1e10;  // nearly linear: whole steps from the first
  options.function_tolerance = precision;
  options.gradient_tolerance = options.parameter_tolerance = 1e-14;
  options.num_threads = 1;  // more would add up in any order, and the last digits differ from run to run
  options.logging_type = ceres::SILENT;
  ceres::Solver::Summary summary;
  ceres::Solve(options, &problem, &summary);
  PieceNormal normal;
  for (std::size_t p = 0; p < pieces.size(); ++p) {  // the last step may have been taken back
    normal.settle(pieces[p], scale, state.z, state.x[p], loss);
  }
  return summary.termination_type == ceres::CONVERGENCE;
}

}  // namespace bilancetta
