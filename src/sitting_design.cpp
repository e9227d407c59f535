#include "sitting_design.hpp"

#include <ceres/jet.h>

#include <Eigen/Dense>

#include <algorithm>
#include <cmath>
#include <utility>

namespace bilancetta
{

namespace
{

constexpr double noncentrality = 4.13;     // found 4 times in 5 by a test at 0.1 % (Baarda)
constexpr double least_redundancy = 1e-6;  // below it a number is checked by nothing but rounding

// What second derivative a robust loss leaves of a squared residual, never below 0.
double cauchy_weight(double residual)
{
  const double t = residual * residual / (cauchy_scale * cauchy_scale);
  return std::max(0.0, (1.0 - t) / ((1.0 + t) * (1.0 + t)));
}

}  // namespace

Design::Linear Design::linear_at(const Observation& o, const SharedScale& scale, const ObservedPiece& piece,
                                 const SharedScale& at, const std::array<double, 2>& of_piece, Loss loss)
{
  using Jet = ceres::Jet<double, shared_error_count + 2>;
  Jet z[shared_error_count];
  for (int i = 0; i < shared_error_count; ++i) {
    z[i] = Jet(at[i], i);
  }
  const Jet x[2] = {Jet(of_piece[0], shared_error_count), Jet(of_piece[1], shared_error_count + 1)};
  Jet residual;
  Residual{&o, &scale, &piece}(z, x, &residual);
  const double t = residual.a * residual.a / (cauchy_scale * cauchy_scale);
  const double weight = !o.used ? 0.0 : loss == Loss::cauchy ? 1.0 / (1.0 + t) : 1.0;
  return {residual.a, weight, residual.v.head<shared_error_count>(), residual.v.tail<2>()};
}

Design::PieceNormal Design::normal_of(std::vector<Linear> lines)
{
  PieceNormal n;
  n.lines = std::move(lines);
  Eigen::Matrix2d own = Eigen::Matrix2d::Identity() / (guess_u * guess_u);
  for (const Linear& line : n.lines) {
    own += line.weight * line.of_piece * line.of_piece.transpose();
    n.across += line.weight * line.of_shared * line.of_piece.transpose();
    n.reduced += line.weight * line.of_shared * line.of_shared.transpose();
  }
  n.inverse_own = own.inverse();
  n.reduced -= n.across * n.inverse_own * n.across.transpose();
  return n;
}

Design::Design(const std::vector<ObservedPiece>& pieces, const SharedScale& scale, const State& state, Loss loss)
{
  SharedMatrix normal = SharedMatrix::Zero();
  for (int i = 0; i < shared_error_count; ++i) {
    // A prior left far behind holds nothing; what no row tells either is then as open as the estimate is far.
    const double z = state.z[i];
    normal(i, i) = std::max(cauchy_weight(z), std::abs(z) > cauchy_scale ? 1.0 / (1.0 + z * z) : 0.0);
  }
  for (std::size_t p = 0; p < pieces.size(); ++p) {
    std::vector<Linear> lines;
    for (const Observation& o : pieces[p].observations) {
      lines.push_back(linear_at(o, scale, pieces[p], state.z, state.x[p], loss));
    }
    pieces_.push_back(normal_of(std::move(lines)));
    normal += pieces_.back().reduced;
  }
  covariance_ = normal.ldlt().solve(SharedMatrix::Identity());
}

// a' N^-1 b of two numbers of one piece.
double Design::leverage(const PieceNormal& n, const Linear& a, const Linear& b) const
{
  const SharedVector of_a = a.of_shared - n.across * (n.inverse_own * a.of_piece);
  const SharedVector of_b = b.of_shared - n.across * (n.inverse_own * b.of_piece);
  return of_a.dot(covariance_ * of_b) + a.of_piece.dot(n.inverse_own * b.of_piece);
}

CheckedReading Design::checked(const Observation& observation, std::size_t piece, std::size_t i) const
{
  const PieceNormal& n = pieces_[piece];
  const Linear& line = n.lines[i];
  const double h = leverage(n, line, line);
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
  c.found_from = noncentrality * std::sqrt(variance) * observation.u;
  c.flagged = !observation.used;
  return c;
}

double Design::correlation(std::size_t piece, std::size_t i, std::size_t j) const
{
  const PieceNormal& n = pieces_[piece];
  const double own_i = 1.0 - leverage(n, n.lines[i], n.lines[i]);
  const double own_j = 1.0 - leverage(n, n.lines[j], n.lines[j]);
  if (own_i < least_redundancy || own_j < least_redundancy) {
    return 0.0;
  }
  return -leverage(n, n.lines[i], n.lines[j]) / std::sqrt(own_i * own_j);
}

}  // namespace bilancetta
