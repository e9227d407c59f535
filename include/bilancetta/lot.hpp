#pragma once

#include <limits>
#include <optional>
#include <utility>

#include "bilancetta/remedy.hpp"

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

/// The rows of a lot that surely lie farthest apart in density, each by four standard uncertainties of its own, so that
/// no chance among hundreds of like rows sets them apart. Rows too small for their scale say nothing here: their curves
/// are lopsided, and end where the densities of the grid do.
class FarthestApart
{
 public:
  void add(double density, double density_u)
  {
    constexpr double sure = 4.0;
    if (density_u > rough_from * density) {
      return;
    }
    if (density - sure * density_u > at_least_) {
      at_least_ = density - sure * density_u;
      heaviest_ = density;
    }
    if (density + sure * density_u < at_most_) {
      at_most_ = density + sure * density_u;
      lightest_ = density;
    }
  }
  /// Lightest and heaviest, g/cm3, if these cannot be one material. Solid pieces of one alloy, and coated ones, vary by
  /// less than 3 % (common practice, no source).
  [[nodiscard]] std::optional<std::pair<double, double>> unlike() const
  {
    constexpr double varies = 1.03;
    return at_least_ > varies * at_most_ ? std::optional(std::pair(lightest_, heaviest_)) : std::nullopt;
  }

 private:
  double at_least_ = 0.0, at_most_ = std::numeric_limits<double>::infinity();
  double lightest_ = 0.0, heaviest_ = 0.0;
};

}  // namespace bilancetta
