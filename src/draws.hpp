#pragma once

#include <vector>

#include "bilancetta/density_grid.hpp"
#include "bilancetta/hypothesis.hpp"

namespace bilancetta
{

/// Quasi-random standard normal vectors, the same for all hypotheses with as many variables: an additive recurrence on
/// the generalised golden ratio (Kronecker sequence; M. Roberts 2018), through the inverse normal.
class NormalBank
{
 public:
  NormalBank(int draws, int dimensions);
  [[nodiscard]] int draws() const { return draws_; }
  [[nodiscard]] const double* at(int draw) const { return &values_[static_cast<std::size_t>(draw) * dimensions_]; }

 private:
  int draws_, dimensions_;
  std::vector<double> values_;
};

/// The bank for its number of variables: 1,024 draws for one or two, 1,536 for more, 49,152 for the open mix.
const NormalBank& bank_for(const Hypothesis& hypothesis);
int draws_of(const Hypothesis& hypothesis);

/// z is drawn wider than N(0, I) by this factor so that tails are filled.
double widening_of(const Hypothesis& hypothesis);
/// The weight of each draw that makes up for it; they average 1.
const std::vector<float>& draw_weights_of(const Hypothesis& hypothesis);

/// What draw number `draw` makes of the hypothesis.
Outcome<double> outcome_of_draw(const Hypothesis& hypothesis, int draw);

/// Gaussian smoothing in ln(density) by a relative standard deviation. The linear weights that bring
/// values onto the grid and off it again widen by a third of a squared spacing; that is taken off here.
GridFunction smoothed(const GridFunction& function, double relative_sd);

}  // namespace bilancetta
