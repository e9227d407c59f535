#include "sitting_design.hpp"

#include <Eigen/Dense>

#include <algorithm>
#include <cmath>
#include <functional>

namespace bilancetta
{

namespace
{

using OwnJet = ceres::Jet<double, 2>;  // by a piece's mass and volume

constexpr double least_redundancy = 1e-6;  // below it a number is checked by nothing but rounding

// What second derivative a robust loss leaves of a squared residual, never below 0.
double cauchy_weight(double residual)
{
  const double t = residual * residual / (cauchy_scale * cauchy_scale);
  return std::max(0.0, (1.0 - t) / ((1.0 + t) * (1.0 + t)));
}

double weight_of(const Observation& observation, Loss loss, double residual)
{
  return observation.used ? weight_of(loss, residual) : 0.0;
}

}  // namespace

double cost_of(Loss loss, double residual)
{
  const double square = residual * residual;
  const double r = std::abs(residual);
  switch (loss) {
    case Loss::huber:
      return r <= huber_scale ? square : huber_scale * (2.0 * r - huber_scale);
    case Loss::cauchy:
      return cauchy_scale * cauchy_scale * std::log1p(square / (cauchy_scale * cauchy_scale));
    case Loss::none:
      break;
  }
  return square;
}

double weight_of(Loss loss, double residual)
{
  const double r = std::abs(residual);
  switch (loss) {
    case Loss::huber:
      return r <= huber_scale ? 1.0 : huber_scale / r;
    case Loss::cauchy:
      return 1.0 / (1.0 + r * r / (cauchy_scale * cauchy_scale));
    case Loss::none:
      break;
  }
  return 1.0;
}

PieceJets::PieceJets(const ObservedPiece& piece, const SharedScale& scale, const double* z, const double* x)
    : mass_(MisfitJet(x[0], shared_error_count) * piece.mass_g),
      volume_(MisfitJet(x[1], shared_error_count + 1) * piece.volume_cm3)
{
  for (int i = 0; i < shared_error_count; ++i) {
    shared_[i] = MisfitJet(z[i], i) * scale[i];
  }
}

void PieceNormal::set(const ObservedPiece& piece, const SharedScale& scale, const SharedScale& z,
                      const std::array<double, 2>& x, Loss loss)
{
  const PieceJets jets(piece, scale, z.data(), x.data());
  Eigen::Matrix2d own = 1.0 / (guess_u * guess_u) * Eigen::Matrix2d::Identity();
  Eigen::Matrix<double, shared_error_count, 2> across = Eigen::Matrix<double, shared_error_count, 2>::Zero();
  reduced.setZero();
  lines.clear();
  for (const Observation& o : piece.observations) {
    const MisfitJet residual = jets.misfit(o);
    lines.push_back(
        {residual.a, weight_of(o, loss, residual.a), residual.v.head<shared_error_count>(), residual.v.tail<2>()});
    const Linear& line = lines.back();
    own += line.weight * line.of_piece * line.of_piece.transpose();
    across += line.weight * line.of_shared * line.of_piece.transpose();
    reduced += line.weight * line.of_shared * line.of_shared.transpose();
  }
  inverse_own = own.inverse();
  pull = inverse_own * across.transpose();
  reduced -= across * pull;
}

void settle(const ObservedPiece& piece, const SharedScale& scale, const SharedScale& z, std::array<double, 2>& x,
            Loss loss)
{
  constexpr int most_steps = 50;
  constexpr double still = 1e-8;  // relative; what a next step would move is far less
  constexpr double guess_weight = 1.0 / (guess_u * guess_u);
  SharedScale shared{};
  std::transform(z.begin(), z.end(), scale.begin(), shared.begin(), std::multiplies<>());
  for (int step = 0; step < most_steps; ++step) {
    const OwnJet mass = OwnJet(x[0], 0) * piece.mass_g, volume = OwnJet(x[1], 1) * piece.volume_cm3;
    Eigen::Matrix2d own = guess_weight * Eigen::Matrix2d::Identity();
    Eigen::Vector2d slope{guess_weight * (x[0] - 1.0), guess_weight * (x[1] - 1.0)};
    for (const Observation& o : piece.observations) {
      const OwnJet residual = (o.expected(shared.data(), mass, volume) - o.value) / o.u;
      const double weight = weight_of(o, loss, residual.a);
      own += weight * residual.v * residual.v.transpose();
      slope += weight * residual.a * residual.v;
    }
    const Eigen::Vector2d move = own.inverse() * slope;
    if (!(x[0] > move[0]) || !(x[1] > move[1])) {
      return;
    }
    x[0] -= move[0];
    x[1] -= move[1];
    if (move.cwiseAbs().maxCoeff() < still) {
      return;
    }
  }
}

double PieceNormal::leverage(const SharedMatrix& covariance, std::size_t a, std::size_t b) const
{
  return of_shared_alone(lines[a]).dot(covariance * of_shared_alone(lines[b])) +
         lines[a].of_piece.dot(inverse_own * lines[b].of_piece);
}

Design::Design(const Adjusted& all, const State& state, Loss loss) : all_(&all), state_(&state), loss_(loss)
{
  struct Sum {
    SharedMatrix normal = SharedMatrix::Zero();
  };
  SharedMatrix normal = SharedMatrix::Zero();
  for (int i = 0; i < shared_error_count; ++i) {
    // A prior left far behind holds nothing; what no row tells either is then as open as the estimate is far.
    const double z = state.z[i];
    normal(i, i) = std::max(cauchy_weight(z), std::abs(z) > cauchy_scale ? 1.0 / (1.0 + z * z) : 0.0);
  }
  const auto add = [&](std::size_t p, PieceNormal& n, Sum& sum) {
    look_at(p, n);
    sum.normal += n.reduced;
  };
  for (const Sum& part : parts_of<Sum>(all, add)) {
    normal += part.normal;
  }
  covariance_ = normal.ldlt().solve(SharedMatrix::Identity());
}

void Design::look_at(std::size_t piece, PieceNormal& normal) const
{
  normal.set(all_->pieces[piece], all_->scale, state_->z, state_->x[piece], loss_);
}

CheckedReading Design::checked(const Observation& observation, const PieceNormal& normal, std::size_t i) const
{
  const PieceNormal::Linear& line = normal.lines[i];
  const double h = normal.leverage(covariance_, i, i);
  const double left = std::max(1.0 - line.weight * h, 1e-9);
  const double apart = line.residual / left;
  const double variance = 1.0 + h / left;
  CheckedReading c;
  c.row = observation.row;
  c.reading = observation.reading;
  c.redundancy = 1.0 / variance;
  if (c.redundancy > least_redundancy) {
    c.w = -apart / std::sqrt(variance);
    c.off = -apart * observation.u;
  }
  c.flagged = !observation.used;
  return c;
}

double Design::correlation(const PieceNormal& normal, std::size_t i, std::size_t j) const
{
  const double own_i = 1.0 - normal.leverage(covariance_, i, i);
  const double own_j = 1.0 - normal.leverage(covariance_, j, j);
  if (own_i < least_redundancy || own_j < least_redundancy) {
    return 0.0;
  }
  return -normal.leverage(covariance_, i, j) / std::sqrt(own_i * own_j);
}

}  // namespace bilancetta
