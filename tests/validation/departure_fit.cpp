#include "departure_fit.hpp"

#include <ceres/ceres.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <stdexcept>

using namespace bilancetta;

namespace validation
{

namespace
{

// Judgement, all of it: what is thought of a system before any row of it is seen.
constexpr double prior_value = 0.015;       // of the first knot
constexpr double prior_slope_change = 0.2;  // from one stretch to the next, per mass fraction
constexpr double prior_scatter = 0.005;     // of alloys about the function ...
constexpr double prior_freedom = 2.0;       // ... worth this many rows
constexpr double huber = 2.0;               // a row farther off than this many scatters counts for less

// (target - weights . values) / sigma of up to three neighbouring knots.
struct Linear {
  double target, a, b, c, sigma;
  template <typename T>
  bool operator()(const T* x, const T* y, const T* z, T* residual) const
  {
    residual[0] = (T(target) - T(a) * x[0] - T(b) * y[0] - T(c) * z[0]) / T(sigma);
    return true;
  }
};

struct Datum {
  double x, departure, sigma_printed;
};

void add(ceres::Problem& problem, const Linear& linear, double* x, double* y, double* z, bool robust)
{
  problem.AddResidualBlock(new ceres::AutoDiffCostFunction<Linear, 1, 1, 1, 1>(new Linear(linear)),
                           robust ? new ceres::HuberLoss(huber) : nullptr, x, y, z);
}

// Which stretch of the knots holds x, and how far along it.
std::pair<std::size_t, double> place_of(const std::vector<double>& knots, double x)
{
  std::size_t k = 1;
  while (k + 1 < knots.size() && x > knots[k]) {
    ++k;
  }
  return {k, (x - knots[k - 1]) / (knots[k] - knots[k - 1])};
}

double value_at(const std::vector<double>& knots, const std::vector<double>& values, double x)
{
  const auto [k, part] = place_of(knots, x);
  return (1.0 - part) * values[k - 1] + part * values[k];
}

double variance_at(const SystemFit& fit, double x)
{
  const auto [k, part] = place_of(fit.system->knots, x);
  const double a = 1.0 - part;
  return a * a * fit.spread[k - 1][k - 1] + 2.0 * a * part * fit.spread[k - 1][k] + part * part * fit.spread[k][k];
}

// Values at the knots for a scatter that is given; leaves their covariance in `fit`.
void solve(SystemFit& fit, const std::vector<Datum>& data)
{
  const std::vector<double>& knots = fit.system->knots;
  const std::size_t n = knots.size();
  ceres::Problem problem;
  double unused = 0.0;
  for (double& value : fit.values) {
    problem.AddParameterBlock(&value, 1);
  }
  problem.AddParameterBlock(&unused, 1);
  problem.SetParameterBlockConstant(&unused);
  problem.SetParameterBlockConstant(fit.values.data());
  for (const Datum& d : data) {
    const auto [k, part] = place_of(knots, d.x);
    const double sigma = std::hypot(fit.scatter, d.sigma_printed);
    add(problem, {d.departure, 1.0 - part, part, 0.0, sigma}, &fit.values[k - 1], &fit.values[k], &unused, true);
  }
  add(problem, {0.0, 1.0, 0.0, 0.0, prior_value}, &fit.values[1], fit.values.data(), &unused, false);
  for (std::size_t k = 2; k < n; ++k) {
    const double before = 1.0 / (knots[k - 1] - knots[k - 2]);
    const double after = 1.0 / (knots[k] - knots[k - 1]);
    add(problem, {0.0, before, -before - after, after, prior_slope_change}, &fit.values[k - 2], &fit.values[k - 1],
        &fit.values[k], false);
  }
  ceres::Solver::Options options;
  options.logging_type = ceres::SILENT;
  options.function_tolerance = 1e-14;
  options.parameter_tolerance = 1e-12;
  options.max_num_iterations = 200;
  ceres::Solver::Summary summary;
  ceres::Solve(options, &problem, &summary);
  if (!summary.IsSolutionUsable()) {
    throw std::runtime_error(std::string(fit.system->key) + ": the fit failed");
  }
  ceres::Covariance covariance(ceres::Covariance::Options{});
  std::vector<std::pair<const double*, const double*>> blocks;
  for (std::size_t i = 1; i < n; ++i) {
    for (std::size_t j = i; j < n; ++j) {
      blocks.emplace_back(&fit.values[i], &fit.values[j]);
    }
  }
  if (!covariance.Compute(blocks, &problem)) {
    throw std::runtime_error(std::string(fit.system->key) + ": no covariance");
  }
  fit.spread.assign(n, std::vector<double>(n, 0.0));
  for (std::size_t i = 1; i < n; ++i) {
    for (std::size_t j = i; j < n; ++j) {
      covariance.GetCovarianceBlock(&fit.values[i], &fit.values[j], &fit.spread[i][j]);
      fit.spread[j][i] = fit.spread[i][j];
    }
  }
}

double solute_fraction(const Tables& tables, const System& system, const AlloyRow& row)
{
  double sum = 0.0;
  for (const Component& c : row.composition) {
    for (const char* solute : system.solutes) {
      sum += tables.constituents[c.constituent].key == solute ? c.fraction.typical : 0.0;
    }
  }
  return sum;
}

// Rounding of the printed number, taken as rectangular.
double printed_sigma(const AlloyRow& row)
{
  return row.half_unit / std::sqrt(3.0) / row.density;
}

// What the densities of the constituents are worth in the density of the mixture.
double constituents_sigma(const Tables& tables, const AlloyRow& row)
{
  double sum = 0.0;
  for (const Component& c : row.composition) {
    const Constituent& constituent = tables.constituents[c.constituent];
    const double volume_share = c.fraction.typical * row.ideal / constituent.density_g_cm3;
    sum += std::pow(volume_share * constituent.standard_uncertainty / constituent.density_g_cm3, 2);
  }
  return std::sqrt(sum);
}

// Two-sided 95 % of Student's distribution; within 1 % from 2 degrees of freedom on.
double student_95(double freedom)
{
  return 1.959964 * (1.0 + 1.21 / freedom + 1.42 / (freedom * freedom));
}

const System& system_called(const std::string& key)
{
  for (const System& system : systems()) {
    if (system.key == key) {
      return system;
    }
  }
  throw std::runtime_error("\"" + key + "\" is not a system of tests/validation/departure_systems.cpp");
}

}  // namespace

SystemFit fit_system(const Tables& tables, const System& system, const std::vector<AlloyRow>& rows, const Chooser& use)
{
  SystemFit fit;
  fit.system = &system;
  fit.values.assign(system.knots.size(), 0.0);
  fit.scatter = prior_scatter;
  std::vector<Datum> data;
  std::set<std::string> sources;
  for (const AlloyRow& row : rows) {
    if (row.melted() && row.system == system.key && row.fitted && use(row)) {
      data.push_back({solute_fraction(tables, system, row), row.departure(), printed_sigma(row)});
      sources.insert(row.source);
    }
  }
  fit.rows = static_cast<int>(data.size());
  fit.sources.assign(sources.begin(), sources.end());
  const double used = std::min<double>(fit.rows, static_cast<double>(system.knots.size()) - 1.0);
  fit.freedom = prior_freedom + fit.rows - used;
  for (int round = 0; round < 8; ++round) {
    solve(fit, data);
    double sum = prior_freedom * prior_scatter * prior_scatter;
    for (const Datum& d : data) {
      const double off = std::abs(d.departure - value_at(system.knots, fit.values, d.x));
      // A row far off counts as if it stood at the bend of the loss, so that one misprint does not widen all.
      sum += std::pow(std::min(off, huber * fit.scatter), 2);
    }
    fit.scatter = std::max(0.002, std::sqrt(sum / fit.freedom));
  }
  return fit;
}

ProcessFit fit_process(const std::vector<AlloyRow>& rows, const std::string& process, const Chooser& use)
{
  constexpr double scatter = 0.004;  // of sound pieces about their own pores: composition and oxide differ (judgement)
  std::vector<double> pores;
  std::set<std::string> sources;
  for (const AlloyRow& row : rows) {
    if (row.process == process && row.fitted && use(row)) {
      pores.push_back(std::max(0.0, -row.departure()));
      sources.insert(row.source);
    }
  }
  if (pores.empty()) {
    // Of a way of making that nobody printed: some pores, up to what pressing and sintering leaves (judgement).
    ProcessFit unknown;
    unknown.typical = 0.02;
    unknown.high = 0.06;
    unknown.scatter = scatter;
    return unknown;
  }
  std::sort(pores.begin(), pores.end());
  ProcessFit fit;
  fit.rows = static_cast<int>(pores.size());
  fit.sources.assign(sources.begin(), sources.end());
  const std::size_t middle = pores.size() / 2;
  fit.typical = pores.size() % 2 ? pores[middle] : 0.5 * (pores[middle - 1] + pores[middle]);
  double sum = prior_freedom * 0.012 * 0.012;
  double freedom = prior_freedom;
  for (const double p : pores) {
    sum += p > fit.typical ? std::pow(p - fit.typical, 2) : 0.0;
    freedom += p > fit.typical ? 1.0 : 0.0;
  }
  fit.high = fit.typical + student_95(freedom) * std::sqrt(sum / freedom);
  fit.scatter = scatter;
  return fit;
}

Prediction predict(const Tables& tables, const std::vector<AlloyRow>& rows, const AlloyRow& row, const Chooser& use)
{
  const double fixed = std::hypot(printed_sigma(row), constituents_sigma(tables, row));
  if (!row.melted()) {
    const ProcessFit fit = fit_process(rows, row.process, use);
    const double side = 1.959964 * std::hypot(fixed, fit.scatter);
    return {row.ideal * (1.0 - fit.typical), row.ideal * (1.0 - fit.typical - std::hypot(fit.high - fit.typical, side)),
            row.ideal * (1.0 - fit.typical + std::hypot(fit.typical, side))};
  }
  const SystemFit fit = fit_system(tables, system_called(row.system), rows, use);
  const double x = solute_fraction(tables, *fit.system, row);
  const double density = row.ideal * (1.0 + value_at(fit.system->knots, fit.values, x));
  const double sigma = std::sqrt(fixed * fixed + fit.scatter * fit.scatter + variance_at(fit, x));
  const double side = student_95(fit.freedom) * sigma;
  return {density, density * (1.0 - side), density * (1.0 + side)};
}

}  // namespace validation
