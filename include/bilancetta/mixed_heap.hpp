#pragma once

#include <utility>
#include <vector>

#include "bilancetta/tables.hpp"

namespace bilancetta
{

/// Densities between which solid materials, alone or mixed, may lie, g/cm3.
struct MixtureRange {
  double lightest = 0.0, heaviest = 0.0;
};
/// From the lightest to the heaviest material, each with three standard deviations of its scatter and of one of its
/// free quantities (judgement).
MixtureRange mixture_range_of(const Tables& tables);

/// Least and most of one constituent, as a mass fraction, that a mixture of solid materials may hold given its mean
/// density. Masses add and so do volumes, hence any mixture lies in the hull of the materials' (specific volume,
/// fraction), each at its typical composition. Copper and tungsten together can weigh what silver weighs: then the
/// least is 0. A density just beyond the typical ones is taken as that of the end; from 0 to 1 for one that no mixture
/// has.
class MixedHeap
{
 public:
  MixedHeap(const Tables& tables, int constituent);
  /// @param density_low, density_high  g/cm3, the band of the mean density
  [[nodiscard]] std::pair<double, double> between(double density_low, double density_high) const;

 private:
  struct Point {
    double volume, fraction;
  };
  using Hull = std::vector<Point>;  // by rising volume
  static Hull lower_hull(const std::vector<Point>& sorted);
  static double least_between(const Hull& hull, double low, double high);
  MixtureRange range_;
  Hull lower_, upper_;  // the upper one with fractions negative
};

}  // namespace bilancetta
