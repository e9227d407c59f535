#pragma once

#include <array>

#include "bilancetta/hypothesis.hpp"

namespace bilancetta
{

/// The most plausible composition of one hypothesis for a measured density.
struct Fit {
  bool converged = false;                 ///< false: the numbers are the best point reached, not an optimum
  std::array<double, max_variables> z{};  ///< whitened variables
  Outcome<double> outcome{};
  /// How far the best explanation is stretched: sqrt of the sum of squared residuals, in standard
  /// deviations; 0 is typical composition exactly at the measured density.
  double misfit = 0.0;
};

/// Least squares with Ceres (TinySolver, automatic differentiation) on the residuals
/// [z; (1/rho(z) - v) / u_v], v the measured specific volume; u_v holds the standard uncertainty of
/// the weighing and the scatter of the hypothesis. Started from several places, for a thick coat and an
/// odd composition can explain the same density. density and u in g/cm3, both above 0.
Fit fit_of(const Hypothesis& hypothesis, double density_g_cm3, double u_g_cm3);

}  // namespace bilancetta
