#pragma once

#include <algorithm>
#include <vector>

#include "bilancetta/density.hpp"

namespace bilancetta
{

/// Displaced shares y = B/D.
struct ShareReach {
  double low, high;
  [[nodiscard]] bool holds(double share) const { return low <= share && share <= high; }
  [[nodiscard]] bool meets(const ShareReach& other) const { return low <= other.high && other.low <= high; }
};

/// What such a weighing would read if a hypothesis held: the distribution of the displaced share
/// y = B/D over readings, p_H(rho) spread by this scale's error. The error's shape is taken from the
/// curve of the readings at hand.
class Predictive
{
 public:
  /// `read_share` is B/D of the mean readings.
  Predictive(const DensityCurve& curve, double read_share, const GridFunction& predicted);

  /// Shares that can be read at all; a cheap look before the distribution is made.
  static ShareReach reach_of(const DensityCurve& curve, double read_share, const GridFunction& predicted);

  /// Probability of a reading that is as unlikely as this one, or more so (prior predictive tail).
  [[nodiscard]] double tail_at(double share) const;
  /// Probability of a cell of readings about this one.
  [[nodiscard]] float mass_at(double share) const;
  /// Cells up to this probability are those whose tail is below `tail`; to 1e-6 of the highest.
  [[nodiscard]] float mass_below(double tail) const;
  /// Probability of a reading per unit of share.
  [[nodiscard]] double density_at(double share) const;
  /// Share of this distribution's readings for which `refused(share)` holds. Between two cells it changes once at most.
  template <typename Test>
  [[nodiscard]] double probability_that(Test refused) const
  {
    double total = 0.0;
    bool before = false;
    for (std::size_t i = 0; i < mass_.size(); ++i) {
      const bool here = mass_[i] > 0.0F && refused(first_ + static_cast<double>(i) * step_);
      if (i > 0 && (before || here)) {
        const double from = mass_[i - 1];
        const double rise = mass_[i] - from;
        const double change = before == here ? 1.0 : change_after(i - 1, before, refused);
        const double up_to_change = change * (from + 0.5 * change * rise);
        total += before ? up_to_change : from + 0.5 * rise - up_to_change;
      }
      before = here;
    }
    return std::clamp(total, 0.0, 1.0);  // masses are rounded
  }

 private:
  // Where between a cell and the next, 0 to 1, `refused` is no longer as it was at the cell.
  template <typename Test>
  [[nodiscard]] double change_after(std::size_t cell, bool before, Test refused) const
  {
    double low = 0.0;
    double high = 1.0;
    for (int halving = 0; halving < 8; ++halving) {
      const double middle = 0.5 * (low + high);
      (refused(first_ + (static_cast<double>(cell) + middle) * step_) == before ? low : high) = middle;
    }
    return 0.5 * (low + high);
  }
  double first_ = 0.0, step_ = 1.0;
  std::vector<float> mass_;
};

/// What a claim would read: the distributions of all hypotheses that make it true.
class ClaimedReadings
{
 public:
  /// A tail below this refuses a claim.
  static constexpr double refused_below = 0.01;

  void add(Predictive predictive);
  /// The largest of their tails at this share.
  [[nodiscard]] double tail_at(double share) const;
  /// tail_at(share) < refused_below, for many shares.
  [[nodiscard]] bool refuses(double share) const;

 private:
  std::vector<Predictive> predictives_;
  std::vector<float> most_refused_;
};

}  // namespace bilancetta
