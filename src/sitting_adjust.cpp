#include "sitting_adjust.hpp"

#include <ceres/ceres.h>

#include <Eigen/Dense>

#include <algorithm>
#include <cmath>

namespace bilancetta
{

namespace
{

constexpr int s_count = shared_error_count;
constexpr double critical = 3.29;  // two-sided 0.1 %: Baarda, A testing procedure for use in geodetic networks, 1968
constexpr double noncentrality = 4.13;  // ... and found 4 times in 5
constexpr double cauchy_scale = 2.385;  // 95 % as good as least squares when all errors are normal
constexpr double guess_u = 3.0;         // relative: keeps a piece that lost its readings where it was guessed
constexpr double alike = 0.95;          // tests that near to the worst cannot tell which number is wrong

using SharedScale = std::array<double, s_count>;

// Residual in units of its standard uncertainty. z: shared errors over their prior uncertainty; x: mass and
// volume over the guess.
struct Residual {
  const Observation* o;
  const SharedScale* scale;
  const ObservedPiece* piece;

  template <typename T>
  bool operator()(const T* z, const T* x, T* residual) const
  {
    T shared[s_count];
    for (int i = 0; i < s_count; ++i) {
      shared[i] = z[i] * (*scale)[i];
    }
    residual[0] = (o->expected(shared, piece->mass_g * x[0], piece->volume_cm3 * x[1]) - o->value) / o->u;
    return true;
  }
};

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

using PieceVector = Eigen::Vector2d;
using Across = Eigen::Matrix<double, s_count, 2>;

struct State {
  std::array<double, s_count> z{};
  std::vector<std::array<double, 2>> x;
};

enum class Loss { none, huber, cauchy };
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
  for (int i = 0; i < s_count; ++i) {
    problem.AddResidualBlock(new ceres::AutoDiffCostFunction<HeldOne, 1, s_count>(new HeldOne{i}),
                             loss_function(loss == Loss::huber ? loss : Loss::cauchy), state.z.data());
  }
  for (std::size_t p = 0; p < pieces.size(); ++p) {
    double* x = state.x[p].data();
    problem.AddResidualBlock(new ceres::AutoDiffCostFunction<Held<2>, 2, 2>(new Held<2>{1.0, guess_u}), nullptr, x);
    for (const Observation& o : pieces[p].observations) {
      if (o.used) {
        problem.AddResidualBlock(
            new ceres::AutoDiffCostFunction<Residual, 1, s_count, 2>(new Residual{&o, &scale, &pieces[p]}),
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

// What second derivative a robust loss leaves of a squared residual, never below 0.
double cauchy_weight(double residual)
{
  const double t = residual * residual / (cauchy_scale * cauchy_scale);
  return std::max(0.0, (1.0 - t) / ((1.0 + t) * (1.0 + t)));
}

struct Linear {
  double residual = 0.0;
  double weight = 0.0;  // what the robust loss leaves of it; 0 if left out
  SharedVector of_shared;
  PieceVector of_piece;
};

Linear linear_at(const Observation& o, const SharedScale& scale, const ObservedPiece& piece,
                 const std::array<double, s_count>& at, const std::array<double, 2>& of_piece, Loss loss)
{
  using Jet = ceres::Jet<double, s_count + 2>;
  Jet z[s_count];
  for (int i = 0; i < s_count; ++i) {
    z[i] = Jet(at[i], i);
  }
  const Jet x[2] = {Jet(of_piece[0], s_count), Jet(of_piece[1], s_count + 1)};
  Jet residual;
  Residual{&o, &scale, &piece}(z, x, &residual);
  const double t = residual.a * residual.a / (cauchy_scale * cauchy_scale);
  const double weight = !o.used ? 0.0 : loss == Loss::cauchy ? 1.0 / (1.0 + t) : 1.0;
  return {residual.a, weight, residual.v.head<s_count>(), residual.v.tail<2>()};
}

// Normal matrix of one piece, its own unknowns eliminated.
struct PieceNormal {
  Eigen::Matrix2d inverse_own;
  Across across = Across::Zero();
  SharedMatrix reduced = SharedMatrix::Zero();
};

PieceNormal normal_of(const std::vector<Linear>& lines)
{
  PieceNormal n;
  Eigen::Matrix2d own = Eigen::Matrix2d::Identity() / (guess_u * guess_u);
  for (const Linear& line : lines) {
    own += line.weight * line.of_piece * line.of_piece.transpose();
    n.across += line.weight * line.of_shared * line.of_piece.transpose();
    n.reduced += line.weight * line.of_shared * line.of_shared.transpose();
  }
  n.inverse_own = own.inverse();
  n.reduced -= n.across * n.inverse_own * n.across.transpose();
  return n;
}

// Tests every number of a piece against what all others expect of it. For a number of full weight this is Baarda's
// residual / sqrt(1 - h), h its leverage.
void test_piece(const ObservedPiece& piece, const std::vector<Linear>& lines, const PieceNormal& n,
                const SharedMatrix& covariance, std::vector<CheckedReading>& checked)
{
  const Across gain = n.across * n.inverse_own;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    const Observation& o = piece.observations[i];
    const Linear& line = lines[i];
    const SharedVector direct = line.of_shared - gain * line.of_piece;
    const double h = direct.dot(covariance * direct) + line.of_piece.dot(n.inverse_own * line.of_piece);
    const double left = std::max(1.0 - line.weight * h, 1e-9);
    const double apart = line.residual / left;
    const double variance = 1.0 + h / left;
    CheckedReading c;
    c.row = o.row;
    c.reading = o.reading;
    c.redundancy = 1.0 / variance;
    c.w = c.redundancy < 1e-6 ? 0.0 : -apart / std::sqrt(variance);
    c.off = c.redundancy < 1e-6 ? 0.0 : -apart * o.u;
    c.found_from = noncentrality * std::sqrt(variance) * o.u;
    c.flagged = !o.used;
    checked.push_back(c);
  }
}

// Priors of the shared errors, then every piece; returns the covariance of z.
SharedMatrix test_all(const std::vector<ObservedPiece>& pieces, const SharedScale& scale, const State& state, Loss loss,
                      std::vector<std::vector<CheckedReading>>& checked)
{
  SharedMatrix normal = SharedMatrix::Zero();
  for (int i = 0; i < s_count; ++i) {
    normal(i, i) = cauchy_weight(state.z[i]);
  }
  std::vector<std::vector<Linear>> lines(pieces.size());
  std::vector<PieceNormal> normals;
  for (std::size_t p = 0; p < pieces.size(); ++p) {
    for (const Observation& o : pieces[p].observations) {
      lines[p].push_back(linear_at(o, scale, pieces[p], state.z, state.x[p], loss));
    }
    normals.push_back(normal_of(lines[p]));
    normal += normals.back().reduced;
  }
  // A prior left far behind holds nothing; what no row tells either is then as open as the estimate is far.
  for (int i = 0; i < s_count; ++i) {
    normal(i, i) += 1e-12 + (normal(i, i) < 1e-6 ? 1.0 / (1.0 + state.z[i] * state.z[i]) : 0.0);
  }
  const SharedMatrix covariance = normal.ldlt().solve(SharedMatrix::Identity());
  checked.assign(pieces.size(), {});
  for (std::size_t p = 0; p < pieces.size(); ++p) {
    test_piece(pieces[p], lines[p], normals[p], covariance, checked[p]);
  }
  return covariance;
}

// Leaves out the worst number of every piece that fails, with those that cannot be told from it.
bool leave_out_worst(std::vector<ObservedPiece>& pieces, const std::vector<std::vector<CheckedReading>>& checked)
{
  bool any = false;
  for (std::size_t p = 0; p < pieces.size(); ++p) {
    double worst = critical;
    for (const CheckedReading& c : checked[p]) {
      worst = c.flagged ? worst : std::max(worst, std::abs(c.w));
    }
    for (std::size_t i = 0; worst > critical && i < checked[p].size(); ++i) {
      if (!checked[p][i].flagged && std::abs(checked[p][i].w) >= alike * worst) {
        pieces[p].observations[i].used = false;
        any = true;
      }
    }
  }
  return any;
}

}  // namespace

void adjust_together(std::vector<ObservedPiece> pieces, SittingResult& result)
{
  SharedScale scale{};
  for (int i = 0; i < s_count; ++i) {
    scale[i] = result.shared[i].prior_u;
  }
  State state;
  state.x.assign(pieces.size(), {1.0, 1.0});
  std::vector<std::vector<CheckedReading>> checked;
  solve(pieces, scale, Loss::huber, state);
  Loss loss = Loss::cauchy;
  SharedMatrix covariance;
  constexpr int most_rounds = 30;
  for (int round = 0; round < most_rounds; ++round) {
    solve(pieces, scale, loss, state);
    covariance = test_all(pieces, scale, state, loss, checked);
    const bool changed = leave_out_worst(pieces, checked);
    if (!changed && loss == Loss::none) {
      break;
    }
    loss = changed ? loss : Loss::none;  // nothing is left that a robust loss would have to hold down
  }
  for (int i = 0; i < s_count; ++i) {
    result.shared[i].value = state.z[i] * scale[i];
    result.shared[i].standard_uncertainty = std::sqrt(covariance(i, i)) * scale[i];
    for (int j = 0; j < s_count; ++j) {
      result.covariance(i, j) = covariance(i, j) * scale[i] * scale[j];
    }
  }
  for (const auto& of_piece : checked) {
    result.readings.insert(result.readings.end(), of_piece.begin(), of_piece.end());
  }
}

}  // namespace bilancetta
