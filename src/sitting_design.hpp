#pragma once

#include <ceres/jet.h>

#include <Eigen/Core>

#include <algorithm>
#include <array>
#include <cstddef>
#include <vector>

#include "sitting_adjust.hpp"
#include "started_threads.hpp"

namespace bilancetta
{

inline constexpr double cauchy_scale = 2.385;  ///< 95 % as good as least squares when all errors are normal
inline constexpr double huber_scale = 1.345;   ///< likewise
inline constexpr double guess_u = 3.0;         ///< relative: keeps a piece that lost its readings where it was guessed

using SharedScale = std::array<double, shared_error_count>;

/// What is adjusted: the pieces, and the prior uncertainties of what they share.
struct Adjusted {
  std::vector<ObservedPiece> pieces;
  SharedScale scale{};
  int threads = 1;  ///< as for thread_count
};

enum class Loss { none, huber, cauchy };
/// Shared errors z over their prior uncertainty, and of each piece its mass and volume over the guess.
struct State {
  SharedScale z{};
  std::vector<std::array<double, 2>> x;
};

using MisfitJet = ceres::Jet<double, shared_error_count + 2>;

/// The unknowns that the numbers of one piece depend on, with their derivatives by z and by x.
class PieceJets
{
 public:
  PieceJets(const ObservedPiece& piece, const SharedScale& scale, const double* z, const double* x);
  /// Over the number's standard uncertainty.
  [[nodiscard]] MisfitJet misfit(const Observation& observation) const
  {
    return (observation.expected(shared_.data(), mass_, volume_) - observation.value) / observation.u;
  }

 private:
  std::array<MisfitJet, shared_error_count> shared_;
  MisfitJet mass_, volume_;
};

/// One piece made linear at a state: for each number its residual in units of its standard uncertainty, its weight
/// under the loss (0 if it is left out) and its derivatives; the piece's normal matrix with its own two unknowns
/// eliminated.
struct PieceNormal {
  struct Linear {
    double residual = 0.0, weight = 0.0;
    SharedVector of_shared;
    Eigen::Vector2d of_piece;
  };
  std::vector<Linear> lines;
  Eigen::Matrix2d inverse_own;
  Eigen::Matrix<double, 2, shared_error_count> pull;  ///< the piece's unknowns follow z by -pull
  SharedMatrix reduced;

  /// Made anew; one object serves any number of pieces.
  void set(const ObservedPiece& piece, const SharedScale& scale, const SharedScale& z, const std::array<double, 2>& x,
           Loss loss);
  /// How the residual of a number moves with z, the piece's own unknowns following.
  [[nodiscard]] SharedVector of_shared_alone(const Linear& line) const
  {
    return line.of_shared - pull.transpose() * line.of_piece;
  }
  /// a' N^-1 b of two numbers, N being the normal matrix of all, `covariance` that of z.
  [[nodiscard]] double leverage(const SharedMatrix& covariance, std::size_t a, std::size_t b) const;
};

/// Makes a Part of every thousand pieces by work(piece, normal, part) for each of them, on several threads; `normal` is
/// there to be made anew. The parts are the same for any number of threads, and so is what adds them up in their order.
template <typename Part, typename Work>
std::vector<Part> parts_of(const Adjusted& all, Work work)
{
  constexpr std::size_t at_once = 1000;
  const std::size_t count = all.pieces.size();
  std::vector<Part> parts((count + at_once - 1) / at_once);
  for_each_index(parts.size(), all.threads, [&](std::size_t i) {
    PieceNormal normal;
    for (std::size_t p = i * at_once; p < std::min((i + 1) * at_once, count); ++p) {
      work(p, normal, parts[i]);
    }
  });
  return parts;
}

/// Moves x to where the cost of the piece alone is least, z held.
void settle(const ObservedPiece& piece, const SharedScale& scale, const SharedScale& z, std::array<double, 2>& x,
            Loss loss);

/// What a loss makes of the square of a residual; weight_of() times that square is never more.
double cost_of(Loss loss, double residual);
/// What it leaves of a residual's weight: its derivative over the residual.
double weight_of(Loss loss, double residual);

/// Moves the state to the least cost of all numbers under a loss: a ceres::Problem of the shared errors, in which the
/// mass and volume of each piece are always those that fit best. The shared errors' own priors are always robust: a
/// tare is seldom off, but when it is, it may be by anything.
/// @param precision  relative fall of the cost that a last step may still bring
/// @return whether it came to rest there
bool solve(const Adjusted& all, State& state, Loss loss, double precision);

/// The adjustment made linear at a state. Holds references: both must outlive it.
class Design
{
 public:
  Design(const Adjusted& all, const State& state, Loss loss);

  /// Of z.
  [[nodiscard]] const SharedMatrix& covariance() const { return covariance_; }
  void look_at(std::size_t piece, PieceNormal& normal) const;
  /// Tests number i of a piece, looked at before, against what all others expect of it. For a number of full weight
  /// this is Baarda's residual / sqrt(1 - h), h its leverage.
  [[nodiscard]] CheckedReading checked(const Observation& observation, const PieceNormal& normal, std::size_t i) const;
  /// Correlation of the residuals of two numbers of one piece; near 1 or -1 they cannot be told apart (Foerstner 1983).
  [[nodiscard]] double correlation(const PieceNormal& normal, std::size_t i, std::size_t j) const;

 private:
  const Adjusted* all_;
  const State* state_;
  Loss loss_;
  SharedMatrix covariance_;
};

}  // namespace bilancetta
