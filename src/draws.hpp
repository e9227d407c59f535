#pragma once

#include <Eigen/Core>
#include <array>
#include <vector>

#include "bilancetta/density_grid.hpp"
#include "bilancetta/hypothesis.hpp"
#include "line_axes.hpp"
#include "normal_bank.hpp"

namespace bilancetta
{

/// Four draws side by side; single precision places each to a hundredth of a node of the grid.
using Four = Eigen::Array<float, 4, 1>;

/// The draws of one hypothesis: even steps along parallel lines through the space of z. The lines run the way in which
/// the density rises most, so that its tails are as well filled as its middle. In the way in which it falls most, if
/// that is another, they are even; in the others they run where quasi-random numbers say, a little wider than N(0, I).
///
/// Many hypotheses are tabulated with some lines each; `fine` draws on more, for the few whose fractions are shown:
/// with three variables and more these are quasi-random in all ways, and twice as wide in the way down.
///
/// A draw stands for the stretch of its line from its own point to the next draw's: its mass lies evenly between the
/// two. The last draw of a line has no mass.
class Draws
{
 public:
  explicit Draws(const Hypothesis& hypothesis, bool fine = false);
  /// What the hypothesis is at a draw, or `along` (0 to 1) the way to the next.
  [[nodiscard]] Outcome<double> outcome(int draw, double along = 0.0);
  /// What it is at four draws from a multiple of four on, together in a register: lines have a multiple of four.
  [[nodiscard]] Outcome<Four> outcomes(int first);

 private:
  void go_to(int line);
  const Hypothesis* hypothesis_;
  bool fine_;
  const std::vector<double>* starts_;  ///< of the lines
  int nodes_;
  double step_;
  int line_ = -1;  ///< that `base_` is a point of
  LineAxes axes_;
  LineAxes::Vector base_{};
};
/// The mass of each draw; in all about the number of lines.
const std::vector<float>& draw_weights_of(const Hypothesis& hypothesis, bool fine = false);
/// The mass of each part of a draw's stretch: so many for each draw.
inline constexpr int line_parts = 2;
const std::vector<float>& part_weights_of(const Hypothesis& hypothesis);

}  // namespace bilancetta
