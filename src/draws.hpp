#pragma once

#include "bilancetta/density_grid.hpp"
#include "bilancetta/hypothesis.hpp"
#include "lanes.hpp"
#include "line_axes.hpp"
#include "line_set.hpp"

namespace bilancetta
{

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
  /// What it is at eight places of one line, in steps from its first draw.
  [[nodiscard]] Outcome<Lanes> outcomes_at(int line, const Lanes& steps) noexcept;
  /// Where those lie among the nodes of the grid, and the mass fraction of a constituent there; 0 if that is -1. Single
  /// precision places each to a hundredth of a node.
  struct Seen {
    Lanes place, share;
  };
  [[nodiscard]] Seen seen_at(int line, const Lanes& steps, int constituent) noexcept;
  [[nodiscard]] const Hypothesis& hypothesis() const { return *hypothesis_; }
  [[nodiscard]] const LineSet& set() const { return *set_; }

 private:
  void go_to(int line);
  [[nodiscard]] Outcome<Lanes> along_line(const Lanes& steps) const;
  const Hypothesis* hypothesis_;
  const LineSet* set_;
  int line_ = -1;  ///< that `base_` is a point of
  LineAxes axes_;
  LineAxes::Vector base_{};
};

}  // namespace bilancetta
