#pragma once

#include <array>
#include <cstddef>
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

  /// Writes the integral of each density times the curve, in their order. @param out  zeros, one for each of them
  void under(const LevelWeights& curve, double* out) const noexcept;
  /// The same of one.
  [[nodiscard]] double under(const LevelWeights& curve, int which) const;
  /// Mass of one below the first node that the curve weighs.
  [[nodiscard]] double mass_below(const LevelWeights& curve, int which) const;

 private:
  /// Functions that fill a register; what they have at one node are neighbours.
  static constexpr std::size_t together = 8;
  struct Block {
    int first, end;      ///< nodes of all of them
    std::size_t offset;  ///< of the first, in `value`
    [[nodiscard]] std::size_t at(int node) const { return offset + together * static_cast<std::size_t>(node - first); }
  };
  struct Level {
    std::vector<Block> blocks;
    std::vector<float> value;
  };
  /// One function on the nodes of its block.
  struct Nodes {
    int first, end;
    const float* values;
    [[nodiscard]] float value(int node) const { return values[together * static_cast<std::size_t>(node - first)]; }
  };
  [[nodiscard]] Nodes nodes_of(int level, int which) const;
  std::vector<int> order_, rank_;  ///< of the functions in the blocks, and of each its place there
  std::array<Level, density_grid::levels> levels_;
};

}  // namespace bilancetta
