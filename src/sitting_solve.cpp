#include <Eigen/Dense>

#include <algorithm>
#include <cmath>

#include "sitting_design.hpp"

namespace bilancetta
{

namespace
{

constexpr int most_steps = 200;
constexpr int most_halvings = 30;
constexpr int most_settling_steps = 100;
constexpr double rounding = 1e-12;  // of a sum of many squares
constexpr double least_left = 0.2;  // a step never leaves less of a mass or volume, so that neither gets to 0

using PieceStep = std::array<double, 2>;

// How the unknowns of one piece answer to a step of the shared ones.
struct Answer {
  Eigen::Matrix<float, 2, shared_error_count> pull;
  PieceStep own_step, own_slope;
};

class GaussNewton
{
 public:
  GaussNewton(const std::vector<ObservedPiece>& pieces, const SharedScale& scale, Loss loss)
      : pieces_(pieces), scale_(scale), loss_(loss), answers_(pieces.size()), moved_(pieces.size(), {0.0, 0.0})
  {
  }

  // Cost at a state; what the next step needs is kept. Pieces that alone could still gain more than `settled` come to
  // rest at these shared errors first, so that a few with two answers do not keep all the others waiting.
  double look_at(State& state, double settled)
  {
    normal_.setZero();
    reduced_slope_.setZero();
    slope_.setZero();
    double cost = 0.0;
    for (int i = 0; i < shared_error_count; ++i) {
      const Lossy l = lossy(loss_ == Loss::huber ? loss_ : Loss::cauchy, state.z[i]);
      cost += l.cost;
      normal_(i, i) = l.weight;
      slope_[i] = reduced_slope_[i] = l.weight * state.z[i];
    }
    for (std::size_t p = 0; p < pieces_.size(); ++p) {
      settle(pieces_[p], state.z, settled, state.x[p]);
      cost += piece_.cost;
      normal_ += piece_.reduced;
      reduced_slope_ += piece_.reduced_slope;
      slope_ += piece_.shared_slope;
      answers_[p] = {piece_.pull.cast<float>(),
                     {piece_.own_step[0], piece_.own_step[1]},
                     {piece_.own_slope[0], piece_.own_slope[1]}};
    }
    return cost;
  }

  // Moves the state and returns by how much the cost should fall.
  double step(State& state)
  {
    shared_moved_ = -normal_.ldlt().solve(reduced_slope_);
    double fall = -0.5 * slope_.dot(shared_moved_);
    for (std::size_t p = 0; p < pieces_.size(); ++p) {
      const Answer& a = answers_[p];
      for (int k = 0; k < 2; ++k) {
        double& x = state.x[p][k];
        const double before = x;
        move(x, -a.own_step[k] - a.pull.row(k).cast<double>().dot(shared_moved_));
        moved_[p][k] = x - before;
        fall -= 0.5 * a.own_slope[k] * moved_[p][k];
      }
    }
    for (int i = 0; i < shared_error_count; ++i) {
      state.z[i] += shared_moved_[i];
    }
    return fall;
  }

  // Takes half of the last step back.
  void halve(State& state)
  {
    shared_moved_ *= 0.5;
    for (int i = 0; i < shared_error_count; ++i) {
      state.z[i] -= shared_moved_[i];
    }
    for (std::size_t p = 0; p < pieces_.size(); ++p) {
      for (int k = 0; k < 2; ++k) {
        moved_[p][k] *= 0.5;
        state.x[p][k] -= moved_[p][k];
      }
    }
  }

 private:
  static void move(double& x, double by) { x = std::max(x + by, least_left * x); }

  // Leaves the piece linear at where it has come to rest.
  void settle(const ObservedPiece& piece, const SharedScale& z, double settled, std::array<double, 2>& x)
  {
    piece_.set(piece, scale_, z, x, loss_);
    for (int i = 0; i < most_settling_steps && 0.5 * piece_.own_slope.dot(piece_.own_step) > settled; ++i) {
      move(x[0], -piece_.own_step[0]);
      move(x[1], -piece_.own_step[1]);
      piece_.set(piece, scale_, z, x, loss_);
    }
  }

  const std::vector<ObservedPiece>& pieces_;
  const SharedScale& scale_;
  Loss loss_;
  PieceNormal piece_;
  std::vector<Answer> answers_;
  std::vector<PieceStep> moved_;
  SharedMatrix normal_;
  SharedVector reduced_slope_, slope_, shared_moved_;
};

}  // namespace

void solve(const std::vector<ObservedPiece>& pieces, const SharedScale& scale, Loss loss, double precision,
           State& state)
{
  double numbers = shared_error_count;
  for (const ObservedPiece& p : pieces) {
    numbers += static_cast<double>(p.observations.size());
  }
  GaussNewton descent(pieces, scale, loss);
  double settled = 1.0;
  double cost = descent.look_at(state, settled);
  for (int i = 0; i < most_steps; ++i) {
    const double fall = descent.step(state);
    if (fall < precision * numbers) {
      return;
    }
    settled = std::clamp(fall / numbers, precision, settled);
    const double before = cost;
    cost = descent.look_at(state, settled);
    for (int half = 0; cost > before * (1.0 + rounding) && half < most_halvings; ++half) {
      descent.halve(state);
      cost = descent.look_at(state, settled);
    }
  }
}

}  // namespace bilancetta
