#include "bilancetta/fit.hpp"

#include <ceres/tiny_solver.h>
#include <ceres/tiny_solver_autodiff_function.h>

#include <cmath>
#include <vector>

#include "normal_bank.hpp"

namespace bilancetta
{

namespace
{

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

// A coat that is thick or of an odd composition may explain the same density: there can be several minima.
// Starts: the typical composition, the best of some wide draws, and each variable alone far to either side.
std::vector<Vector> starts_for(const Residuals& residuals)
{
  constexpr int tried = 512;
  constexpr double far = 3.0;
  const Hypothesis& h = *residuals.hypothesis;
  std::vector<Vector> starts = {Vector::Zero(), Vector::Zero()};
  const NormalBank& bank = bank_for(h.kind, h.variables);
  for (int i = 0; i < tried; ++i) {
    Vector z = Vector::Zero();
    for (int k = 0; k < h.variables; ++k) {
      z[k] = 1.5 * bank.at(i)[k];
    }
    if (residuals.cost(z.data()) < residuals.cost(starts[1].data())) {
      starts[1] = z;
    }
  }
  for (int k = 0; k < h.variables; ++k) {
    for (const double side : {-far, far}) {
      starts.emplace_back(Vector::Zero());
      starts.back()[k] = side;
    }
  }
  return starts;
}

}  // namespace

Fit fit_of(const Hypothesis& hypothesis, double density_g_cm3, double u_g_cm3)
{
  const double volume = 1.0 / density_g_cm3;
  const Residuals residuals{&hypothesis, volume, volume * std::hypot(u_g_cm3 / density_g_cm3, hypothesis.scatter)};
  const std::vector<Vector> starts = starts_for(residuals);
  const Function function(residuals);
  Fit fit;
  double best = 1e300;
  for (Vector z : starts) {
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
