#pragma once

#include <string>
#include <vector>

#include "bilancetta/density_grid.hpp"
#include "bilancetta/weighing.hpp"

namespace bilancetta
{

/// How well each density explains one weighing: a likelihood, with no prior in it.
///
/// Points are evenly spaced in y = (rho_l - rho_a) / (rho - rho_a), the displaced share of the dry
/// reading, in which reading errors are near-symmetric; density falls along the points. A small piece
/// may well read a share at or below 0: the points go as far as the readings allow, while everything
/// that speaks of density looks only at 0.5 to 23 g/cm3.
struct DensityCurve {
  double first_share = 0.0;  ///< y of the first point
  double share_step = 0.0;
  std::vector<double> likelihood;  ///< highest value 1
  double liquid_g_cm3 = 0.0;
  double air_g_cm3 = 0.0;

  [[nodiscard]] double share_at(double point) const { return first_share + point * share_step; }
  [[nodiscard]] double density_at(double point) const
  {
    return air_g_cm3 + (liquid_g_cm3 - air_g_cm3) / share_at(point);
  }
};

/// The curve by direct integration: the dry weight is integrated out over its own likelihood.
/// Contributions: rounding (exact interval), repeatability with the scatter of repeats, linearity,
/// liquid density, air density, thread, bubbles (one-sided); docs/uncertainty.md lists each with its
/// source. @throws Error as check(weighing).
DensityCurve density_curve_of(const Weighing& weighing);

/// What a person wants of the curve. Takes every density from 0.5 to 23 g/cm3 as equally likely
/// beforehand (JCGM 101 propagation, flat in the inputs, is too narrow for small pieces).
struct DensitySummary {
  double value = 0.0;  ///< median, g/cm3
  double standard_uncertainty = 0.0;
  double low = 0.0, high = 0.0;  ///< equal-tailed at `level`
  double level = 0.95;
  bool possible = true;           ///< false: no density from 0.5 to 23 g/cm3 gives such readings
  bool bounded = true;            ///< false: the readings give only a lower bound; high is the end of the range
  double plain = 0.0;             ///< the formula on mean readings, no bubble allowance; 0 if nothing was displaced
  double relative_density = 0.0;  ///< dry reading / displaced reading ("specific gravity"); 0 likewise
};
DensitySummary summary_of(const DensityCurve& curve, const Weighing& weighing, double level = 0.95);

/// Decimals that a standard uncertainty supports: two digits of it if they are below 30, else one.
int decimals_supported_by(double standard_uncertainty);
/// The ends of a band with so many decimals, rounded outwards: a band that is shown is never narrower than it is.
std::string low_end(double low, int decimals);
std::string high_end(double high, int decimals);

/// One line of the uncertainty budget (JCGM 100 first order, sensitivities by automatic differentiation).
struct BudgetLine {
  std::string cause;                  ///< readability, repeatability, linearity, liquid temperature, ...
  double standard_uncertainty = 0.0;  ///< g/cm3
  double share = 0.0;                 ///< of the variance
};
/// Largest first. Empty if nothing was displaced.
std::vector<BudgetLine> budget_of(const Weighing& weighing);

/// The integral of the curve over density around each node of the common grid (splines), so
/// that evidence of a hypothesis is dot(weights, its predicted density).
GridFunction weights_on_grid(const DensityCurve& curve);

/// The curve on the finest level, from `finest` on, that covers it with at most `most_nodes` nodes: on level `finest`
/// its integral about each node (of a smooth curve its value times the node's width), above that its value there. A
/// curve that spans several octaves changes fastest at one end: no node there may stand for more than `widest` of the
/// range of the curve, which takes more nodes.
/// @param within  nodes of the grid: only those of the curve are laid that these, or what lies between them, need
LevelWeights weights_on_level(const DensityCurve& curve, int most_nodes, int finest, double widest = 1.0,
                              NodeRange within = {});

}  // namespace bilancetta
