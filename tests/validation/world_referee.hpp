#pragma once

#include <array>
#include <map>
#include <string>
#include <vector>

#include "belief.hpp"
#include "world.hpp"

namespace world
{

/// How often the bench answers so, by kind of piece, counted once for all places.
class AnswerCounts
{
 public:
  static constexpr std::size_t cells = 600;  ///< magnet 3, skin 10, notch 10, sides 2
  using Odds = std::array<float, cells>;
  /// Row of the odds of pieces of the same build and substances as this one; counted when first asked for.
  int row_of(const Piece& piece, Random& random);
  [[nodiscard]] double probability(int row, std::size_t cell) const
  {
    return odds_[static_cast<std::size_t>(row)][cell];
  }
  static std::size_t cell_of(const Bench& bench);

 private:
  std::map<std::array<int, 3>, int> rows_;
  std::vector<Odds> odds_;
};

/// Brute-force inference by somebody who knows the world: many pieces of one place and about one mass, each weighted
/// with the likelihood of the readings under the world's own law of errors.
class Referee
{
 public:
  /// Mass matters through coats alone, as its cube root; eight classes of it are fine enough.
  static constexpr int mass_classes = 8;
  static int mass_class(double dry_g);

  /// `counts` must outlive the referee.
  Referee(const std::string& place, int mass_class, int pieces, AnswerCounts& counts, Random& random);
  /// Whether any of its pieces could have given these readings.
  [[nodiscard]] bool explains(const Reading& reading) const;
  /// Without bench answers if `bench` is null. The readings must be explained.
  [[nodiscard]] Belief belief(const Reading& reading, const Bench* bench) const;

 private:
  struct Drawn {
    float density = 0.0F;
    float silver_root = 0.0F;  ///< square root of the silver fraction; below 0 for none
    int kind = 0;              ///< row of the counts
    Build build = Build::solid;
    bool cadmium = false;
  };
  const AnswerCounts* counts_;
  std::vector<Drawn> drawn_;  ///< by rising density
};

}  // namespace world
