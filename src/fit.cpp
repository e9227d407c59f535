#include "bilancetta/fit.hpp"

#include <ceres/tiny_solver.h>
#include <ceres/tiny_solver_autodiff_function.h>

#include <cmath>

#include "draws.hpp"

namespace bilancetta {

namespace {

// Every hypothesis is padded to max_variables; unused ones are held by their own prior residual.
struct Residuals {
  const Hypothesis* hypothesis;
  double volume_cm3_g;
  double volume_u;

  template <typename T>
  bool operator()(const T* z, T* residual) const
  {
    for (int k = 0; k < max_variables; ++k) {
      residual[k] = z[k];
    }
    residual[max_variables] = (T(1.0) / hypothesis->evaluate(z).density - T(volume_cm3_g)) / T(volume_u);
    return true;
  }

  [[nodiscard]] double cost(const double* z) const
  {
    double residual[max_variables + 1];
    (*this)(z, residual);
    double total = 0.0;
    for (const double r : residual) {
      total += 0.5 * r * r;
    }
    return total;
  }
};

using Function = ceres::TinySolverAutoDiffFunction<Residuals, max_variables + 1, max_variables>;
using Vector = Eigen::Matrix<double, max_variables, 1>;

}  // namespace

Fit fit_of(const Hypothesis& hypothesis, double density_g_cm3, double u_g_cm3)
{
  const double volume = 1.0 / density_g_cm3;
  const Residuals residuals{&hypothesis, volume, volume * std::hypot(u_g_cm3 / density_g_cm3, hypothesis.scatter)};
  Vector best_draw = Vector::Zero();
  constexpr int tried = 256;
  const NormalBank& bank = bank_for(hypothesis);
  for (int i = 0; i < tried; ++i) {
    Vector z = Vector::Zero();
    for (int k = 0; k < hypothesis.variables; ++k) {
      z[k] = bank.at(i)[k];
    }
    if (residuals.cost(z.data()) < residuals.cost(best_draw.data())) {
      best_draw = z;
    }
  }
  const Function function(residuals);
  Fit fit;
  double best = 1e300;
  for (Vector z : {Vector(Vector::Zero()), best_draw}) {
    ceres::TinySolver<Function> solver;
    solver.options.max_num_iterations = 100;
    solver.options.parameter_tolerance = 1e-10;
    solver.options.gradient_tolerance = 1e-9;
    solver.options.cost_threshold = 1e-14;
    const auto& summary = solver.Solve(function, &z);
    const double cost = residuals.cost(z.data());
    if (cost < best) {
      best = cost;
      fit.converged = summary.status != ceres::TinySolver<Function>::HIT_MAX_ITERATIONS;
      for (int k = 0; k < max_variables; ++k) {
        fit.z[k] = z[k];
      }
    }
  }
  fit.outcome = hypothesis.evaluate(fit.z.data());
  fit.misfit = std::sqrt(2.0 * best);
  return fit;
}

}  // namespace bilancetta
