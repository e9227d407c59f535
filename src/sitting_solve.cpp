#include <ceres/ceres.h>

#include <Eigen/Dense>

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "sitting_design.hpp"

namespace bilancetta
{

namespace
{

constexpr int most_steps = 200;

// All numbers against what the shared errors let expect, over their uncertainties, the mass and volume of each piece
// being those that fit best; what keeps a piece that lost its readings where it was guessed; and the shared errors'
// priors. However many they are, Ceres is given five residuals that have the cost of all, its slope and its
// Gauss-Newton matrix.
class Misfits : public ceres::SizedCostFunction<shared_error_count + 1, shared_error_count>
{
 public:
  Misfits(const Adjusted& all, State& state, Loss loss) : all_(&all), state_(&state), loss_(loss) {}

  bool Evaluate(const double* const* parameters, double* residuals, double** jacobians) const override
  {
    SharedScale z{};
    std::copy_n(parameters[0], z.size(), z.begin());
    Sums sums = of_priors(z);
    const auto add_piece = [&](std::size_t p, PieceNormal& normal, Sums& sum) {
      settle(all_->pieces[p], all_->scale, z, state_->x[p], loss_);
      normal.set(all_->pieces[p], all_->scale, z, state_->x[p], loss_);
      add(p, normal, sum);
    };
    for (const Sums& part : parts_of<Sums>(*all_, add_piece)) {
      sums.cost += part.cost;
      sums.slope += part.slope;
      sums.normal += part.normal;
    }
    const Eigen::LLT<SharedMatrix> root(sums.normal);
    const SharedVector first = root.matrixL().solve(sums.slope);
    Eigen::Map<SharedVector>{residuals} = first;
    residuals[shared_error_count] = std::sqrt(std::max(sums.cost - first.squaredNorm(), 0.0));
    if (jacobians != nullptr) {
      Eigen::Map<Eigen::Matrix<double, shared_error_count + 1, shared_error_count, Eigen::RowMajor>> slopes(
          jacobians[0]);
      slopes.setZero();
      slopes.topRows<shared_error_count>() = root.matrixU();
    }
    return root.info() == Eigen::Success;
  }

 private:
  struct Sums {
    double cost = 0.0;  // twice what is to be least
    SharedVector slope = SharedVector::Zero();
    SharedMatrix normal = SharedMatrix::Zero();
  };

  [[nodiscard]] Sums of_priors(const SharedScale& z) const
  {
    const Loss loss = loss_ == Loss::huber ? loss_ : Loss::cauchy;
    Sums sums;
    for (int i = 0; i < shared_error_count; ++i) {
      sums.cost += cost_of(loss, z[i]);
      sums.slope[i] = weight_of(loss, z[i]) * z[i];
      sums.normal(i, i) = weight_of(loss, z[i]);
    }
    return sums;
  }

  void add(std::size_t p, const PieceNormal& normal, Sums& sums) const
  {
    for (std::size_t i = 0; i < normal.lines.size(); ++i) {
      const PieceNormal::Linear& line = normal.lines[i];
      sums.cost += all_->pieces[p].observations[i].used ? cost_of(loss_, line.residual) : 0.0;
      sums.slope += line.weight * line.residual * normal.of_shared_alone(line);
    }
    const auto& x = state_->x[p];
    for (int i = 0; i < 2; ++i) {
      const double off = (x[i] - 1.0) / guess_u;
      sums.cost += off * off;
      sums.slope -= off / guess_u * normal.pull.row(i).transpose();
    }
    sums.normal += normal.reduced;
  }

  const Adjusted* all_;
  State* state_;
  Loss loss_;
};

}  // namespace

bool solve(const Adjusted& all, State& state, Loss loss, double precision)
{
  ceres::Problem problem;
  problem.AddResidualBlock(new Misfits(all, state, loss), nullptr, state.z.data());
  ceres::Solver::Options options;
  options.linear_solver_type = ceres::DENSE_QR;
  options.max_num_iterations = most_steps;
  options.initial_trust_region_radius = 1e10;  // nearly linear: whole steps from the first
  options.function_tolerance = precision;
  options.gradient_tolerance = 1e-6;  // then no shared error is further off, in standard uncertainties
  options.parameter_tolerance = 1e-14;
  options.logging_type = ceres::SILENT;
  ceres::Solver::Summary summary;
  ceres::Solve(options, &problem, &summary);
  for_each_index(all.pieces.size(), all.threads, [&](std::size_t p) {  // the last step may have been taken back
    settle(all.pieces[p], all.scale, state.z, state.x[p], loss);
  });
  return summary.termination_type == ceres::CONVERGENCE;
}

}  // namespace bilancetta
