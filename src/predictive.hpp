#pragma once

#include <vector>

#include "bilancetta/density.hpp"

namespace bilancetta
{

/// What such a weighing would read if a hypothesis held: the distribution of the displaced share
/// y = B/D over readings, p_H(rho) spread by this scale's error. The error's shape is taken from the
/// curve of the readings at hand.
class Predictive
{
 public:
  /// `read_share` is B/D of the mean readings.
  Predictive(const DensityCurve& curve, double read_share, const GridFunction& predicted);

  /// Probability of a reading that is as unlikely as this one, or more so (prior predictive tail).
  [[nodiscard]] double tail_at(double share) const;
  /// Probability of a reading per unit of share.
  [[nodiscard]] double density_at(double share) const;
  /// Share of this distribution's readings for which `refused(share)` holds.
  template <typename Test>
  [[nodiscard]] double probability_that(Test refused) const
  {
    double total = 0.0;
    for (std::size_t i = 0; i < mass_.size(); ++i) {
      total += refused(first_ + static_cast<double>(i) * step_) ? mass_[i] : 0.0;
    }
    return total;
  }

 private:
  double first_ = 0.0, step_ = 1.0;
  std::vector<double> mass_, tail_;
};

}  // namespace bilancetta
