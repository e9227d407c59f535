#include "sitting_design.hpp"

#include <Eigen/Dense>

#include <algorithm>
#include <cmath>

namespace bilancetta
{

namespace
{

constexpr double least_redundancy = 1e-6;  // below it a number is checked by nothing but rounding

// What second derivative a robust loss leaves of a squared residual, never below 0.
double cauchy_weight(double residual)
{
  const double t = residual * residual / (cauchy_scale * cauchy_scale);
  return std::max(0.0, (1.0 - t) / ((1.0 + t) * (1.0 + t)));
}

// What a loss leaves of a residual's weight: its derivative over the residual.
double weight_of(const Observation& observation, Loss loss, double residual)
{
  if (!observation.used) {
    return 0.0;
  }
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

}  // namespace

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

void PieceNormal::settle(const ObservedPiece& piece, const SharedScale& scale, const SharedScale& z,
                         std::array<double, 2>& x, Loss loss)
{
  constexpr int most_steps = 50;
  constexpr double still = 1e-8;  // relative: what is left of the cost goes with its square
  for (int step = 0; step < most_steps; ++step) {
    set(piece, scale, z, x, loss);
    Eigen::Vector2d slope{(x[0] - 1.0) / (guess_u * guess_u), (x[1] - 1.0) / (guess_u * guess_u)};
    for (const Linear& line : lines) {
      slope += line.weight * line.residual * line.of_piece;
    }
    const Eigen::Vector2d move = inverse_own * slope;
    if (move.cwiseAbs().maxCoeff() < still || !(x[0] > move[0]) || !(x[1] > move[1])) {
      return;
    }
    x[0] -= move[0];
    x[1] -= move[1];
  }
}

double PieceNormal::leverage(const SharedMatrix& covariance, std::size_t a, std::size_t b) const
{
  return of_shared_alone(lines[a]).dot(covariance * of_shared_alone(lines[b])) +
         lines[a].of_piece.dot(inverse_own * lines[b].of_piece);
}

Design::Design(const std::vector<ObservedPiece>& pieces, const SharedScale& scale, const State& state, Loss loss)
    : pieces_(&pieces), scale_(&scale), state_(&state), loss_(loss)
{
  SharedMatrix normal = SharedMatrix::Zero();
  for (int i = 0; i < shared_error_count; ++i) {
    // A prior left far behind holds nothing; what no row tells either is then as open as the estimate is far.
    const double z = state.z[i];
    normal(i, i) = std::max(cauchy_weight(z), std::abs(z) > cauchy_scale ? 1.0 / (1.0 + z * z) : 0.0);
  }
  PieceNormal n;
  for (std::size_t p = 0; p < pieces.size(); ++p) {
    look_at(p, n);
    normal += n.reduced;
  }
  covariance_ = normal.ldlt().solve(SharedMatrix::Identity());
}

void Design::look_at(std::size_t piece, PieceNormal& normal) const
{
  normal.set((*pieces_)[piece], *scale_, state_->z, state_->x[piece], loss_);
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
