#pragma once

#include <Eigen/Core>
#include <array>
#include <vector>

#include "bilancetta/density_grid.hpp"
#include "bilancetta/hypothesis.hpp"
#include "line_axes.hpp"
#include "line_set.hpp"

namespace bilancetta
{

/// Four draws side by side; single precision places each to a hundredth of a node of the grid.
using Four = Eigen::Array<float, 4, 1>;

/// Where four outcomes lie among the nodes of the grid.
inline Four places_of(const Outcome<Four>& outcomes)
{
  constexpr auto per_spacing = static_cast<float>(1.0 / density_grid::spacing);
  constexpr auto per_highest = static_cast<float>(1.0 / density_grid::highest_g_cm3);
  return (outcomes.density * per_highest).log() * per_spacing + static_cast<float>(density_grid::nodes - 1);
}

/// The draws of one hypothesis: its set of lines (line_set.hpp), turned. The lines run the way in which the density
/// rises most, so that its tails are as well filled as its middle; the first axis across is the way in which it falls
/// most, if that is another.
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
  /// The same at four places of one line, in steps from its first draw.
  [[nodiscard]] Outcome<Four> outcomes_at(int line, const Four& steps);
  /// The same at a quarter, half, three quarters and the whole of the way from a draw to the next.
  [[nodiscard]] Outcome<Four> quarters(int draw);
  [[nodiscard]] const Hypothesis& hypothesis() const { return *hypothesis_; }
  [[nodiscard]] const LineSet& set() const { return *set_; }

 private:
  void go_to(int line);
  [[nodiscard]] Outcome<Four> along_line(const Four& t) const;
  const Hypothesis* hypothesis_;
  const LineSet* set_;
  int line_ = -1;  ///< that `base_` is a point of
  LineAxes axes_;
  LineAxes::Vector base_{};
};

}  // namespace bilancetta
