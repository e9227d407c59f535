#pragma once

#include <cstddef>
#include <vector>

#include "bilancetta/hypothesis.hpp"

namespace bilancetta
{

/// Parallel lines through the space of z with even steps along each, before they are turned onto the axes of a
/// hypothesis (line_axes.hpp): where they lie and what mass of N(0, I) each step stands for. The same for all
/// hypotheses of as many variables.
///
/// Along a line the steps reach +-5. On the first axis across, lines are even over +-5; on the others they run where
/// quasi-random numbers say, wider than N(0, 1).
///
/// Many hypotheses are tabulated with some lines each; `fine` sets have more, for the few whose fractions are shown:
/// these are quasi-random in all ways.
struct LineSet {
  int lines = 0, nodes = 0;     ///< nodes: draws along each line, a multiple of four
  int ways = 0;                 ///< across each line
  double step = 0.0;            ///< between two draws
  std::vector<double> starts;   ///< of each line, where its first draw lies
  std::vector<double> across;   ///< of each line, its place on the axes across: so many ways each
  std::vector<double> density;  ///< of each line, that of N(0, I) across there over that of the lines
  std::vector<float> weights;   ///< of each draw, the mass of its step; nothing if that is negligible
  std::vector<float> parts;     ///< the same for each part of a step; none of a fine set

  /// Draws of one line that have mass, which are neighbours; the last of their steps ends at `end`.
  struct Filled {
    int first = 0, end = 0;
  };
  std::vector<Filled> filled;  ///< of each line

  static constexpr int parts_of_step = 2;
  [[nodiscard]] const double* across_of(int line) const
  {
    return across.data() + static_cast<std::size_t>(line) * ways;
  }
};

/// The set for a hypothesis of this kind with so many variables; one variable or none and the open mix
/// have nothing finer.
const LineSet& line_set_for(const Hypothesis& hypothesis, bool fine = false);

/// Points of a rank-1 lattice in the unit cube: of point i, coordinate k. Generating vectors were built component by
/// component (Sloan and Reztsov 2002, doi 10.1090/S0025-5718-01-01342-4) for the worst-case error of periodic functions
/// with square-integrable first derivatives, weight 0.1 for each coordinate.
/// @param points  149, 307 or 1499
double lattice_coordinate(int points, int i, int k);

}  // namespace bilancetta
