#pragma once

#include <Eigen/Core>

#include <array>
#include <vector>

#include "sitting_adjust.hpp"

namespace bilancetta
{

inline constexpr double cauchy_scale = 2.385;  ///< 95 % as good as least squares when all errors are normal
inline constexpr double guess_u = 3.0;         ///< relative: keeps a piece that lost its readings where it was guessed

using SharedScale = std::array<double, shared_error_count>;

/// Residual in units of its standard uncertainty. z: shared errors over their prior uncertainty; x: mass and
/// volume over the guess.
struct Residual {
  const Observation* o;
  const SharedScale* scale;
  const ObservedPiece* piece;

  template <typename T>
  bool operator()(const T* z, const T* x, T* residual) const
  {
    T shared[shared_error_count];
    for (int i = 0; i < shared_error_count; ++i) {
      shared[i] = z[i] * (*scale)[i];
    }
    residual[0] = (o->expected(shared, piece->mass_g * x[0], piece->volume_cm3 * x[1]) - o->value) / o->u;
    return true;
  }
};

enum class Loss { none, huber, cauchy };

/// Shared errors z and the pieces' x, as in Residual.
struct State {
  SharedScale z{};
  std::vector<std::array<double, 2>> x;
};

/// The adjustment made linear at a state: for each number its residual, its weight under the loss and its derivatives;
/// for each piece its normal matrix with its own unknowns eliminated. No matrix grows with the pieces.
class Design
{
 public:
  Design(const std::vector<ObservedPiece>& pieces, const SharedScale& scale, const State& state, Loss loss);

  /// Of z.
  [[nodiscard]] const SharedMatrix& covariance() const { return covariance_; }
  /// Tests number i of a piece against what all others expect of it. For a number of full weight this is Baarda's
  /// residual / sqrt(1 - h), h its leverage.
  [[nodiscard]] CheckedReading checked(const Observation& observation, std::size_t piece, std::size_t i) const;
  /// Correlation of the residuals of two numbers of one piece; near 1 or -1 they cannot be told apart (Foerstner 1983).
  [[nodiscard]] double correlation(std::size_t piece, std::size_t i, std::size_t j) const;

 private:
  using PieceVector = Eigen::Vector2d;
  struct Linear {
    double residual = 0.0, weight = 0.0;
    SharedVector of_shared;
    PieceVector of_piece;
  };
  struct PieceNormal {
    std::vector<Linear> lines;
    Eigen::Matrix2d inverse_own = Eigen::Matrix2d::Zero();
    Eigen::Matrix<double, shared_error_count, 2> across = Eigen::Matrix<double, shared_error_count, 2>::Zero();
    SharedMatrix reduced = SharedMatrix::Zero();
  };
  static Linear linear_at(const Observation& o, const SharedScale& scale, const ObservedPiece& piece,
                          const SharedScale& z, const std::array<double, 2>& x, Loss loss);
  static PieceNormal normal_of(std::vector<Linear> lines);
  [[nodiscard]] double leverage(const PieceNormal& n, const Linear& a, const Linear& b) const;

  std::vector<PieceNormal> pieces_;
  SharedMatrix covariance_;
};

}  // namespace bilancetta
