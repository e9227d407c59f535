#pragma once

#include <array>
#include <vector>

#include "bilancetta/density_grid.hpp"

namespace bilancetta
{

/// The predicted densities of many hypotheses, level by level side by side in one piece of memory, since every row of a
/// batch is held against all of them.
class Predictions
{
 public:
  Predictions() = default;
  explicit Predictions(const std::vector<Pyramid>& predicted);

  /// Writes the integral of each density times the curve, in their order. @param out  room for all of them
  void under(const LevelWeights& curve, double* out) const;
  /// The same of one.
  [[nodiscard]] double under(const LevelWeights& curve, int which) const;
  /// Mass of one below the first node that the curve weighs.
  [[nodiscard]] double mass_below(const LevelWeights& curve, int which) const;

 private:
  struct Span {
    int first, end;  ///< nodes, in eights
    int offset;      ///< of the first, in `value`
  };
  struct Level {
    std::vector<Span> spans;
    std::vector<float> value;
  };
  std::array<Level, density_grid::levels> levels_;
};

}  // namespace bilancetta
