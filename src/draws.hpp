#pragma once

#include <vector>

#include "bilancetta/density_grid.hpp"
#include "bilancetta/hypothesis.hpp"

namespace bilancetta {

/// Quasi-random standard normal vectors, the same for every hypothesis: an additive recurrence on the
/// generalised golden ratio (Kronecker sequence; M. Roberts 2018), through the inverse normal.
class NormalBank {
 public:
  NormalBank(int draws, int dimensions);
  [[nodiscard]] int draws() const { return draws_; }
  [[nodiscard]] const double* at(int draw) const { return &values_[static_cast<std::size_t>(draw) * dimensions_]; }

 private:
  int draws_, dimensions_;
  std::vector<double> values_;
};

/// Draws for all named hypotheses (4,096 x 8) and for the open mix (65,536 x 4).
const NormalBank& bank_for(const Hypothesis& hypothesis);

/// z is drawn wider than N(0, I) by this factor so that tails are filled; weight_of_draw makes up for it.
double widening_of(const Hypothesis& hypothesis);
double weight_of_draw(const Hypothesis& hypothesis, const double* z);

/// Calls use(outcome, weight) for every draw of the hypothesis; weights average 1.
template <typename Use>
void for_each_draw(const Hypothesis& hypothesis, Use use)
{
  const NormalBank& bank = bank_for(hypothesis);
  const double widening = widening_of(hypothesis);
  double z[max_variables] = {};
  for (int i = 0; i < bank.draws(); ++i) {
    for (int k = 0; k < hypothesis.variables; ++k) {
      z[k] = widening * bank.at(i)[k];
    }
    use(hypothesis.evaluate(z), weight_of_draw(hypothesis, z));
  }
}

/// Gaussian smoothing in ln(density) by a relative standard deviation. The linear weights that bring
/// values onto the grid and off it again widen by a third of a squared spacing; that is taken off here.
GridFunction smoothed(const GridFunction& function, double relative_sd);

}  // namespace bilancetta
