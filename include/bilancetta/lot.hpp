#pragma once

#include <algorithm>
#include <cmath>
#include <map>

namespace bilancetta
{

/// Of how many independent readings n like readings of one sitting are worth: n / (1 + (n - 1) r), the design effect
/// of Kish (Survey Sampling, 1965, section 5.4) with r the share of a reading's error variance that all have alike: the
/// scale's linearity at that load, the liquid, the recipe. r = 0.25 is judgement: a quarter for the pocket class. So
/// no number of like pieces counts for more than four.
inline double effective_readings(long n)
{
  constexpr double shared = 0.25;
  return n > 0 ? static_cast<double>(n) / (1.0 + static_cast<double>(n - 1) * shared) : 0.0;
}

/// What rows that are the same material say together: the mean of ln(value) of each hypothesis over the rows. A
/// hypothesis that a row does not list counts there as the smallest value listed (`floor`), which favours it if
/// anything.
class LotMean
{
 public:
  /// @param values  pairs of (index, value > 0)
  template <typename Values>
  void add(const Values& values, double floor)
  {
    ++rows_;
    for (const auto& [index, value] : values) {
      excess_[index] += std::max(0.0, std::log(value / floor));
    }
  }
  [[nodiscard]] long rows() const { return rows_; }
  /// exp(power x mean), up to a factor common to all hypotheses.
  [[nodiscard]] double value_of(int index, double power) const
  {
    const auto match = excess_.find(index);
    return match == excess_.end() ? 1.0 : std::exp(power * match->second / static_cast<double>(rows_));
  }

 private:
  long rows_ = 0;
  std::map<int, double> excess_;
};

}  // namespace bilancetta
