#pragma once

// Which hypotheses are compared with brute force, and at which densities.

#include <string>
#include <vector>

#include "bilancetta/posterior.hpp"

namespace validation
{

/// A hypothesis with the way its piece is made, as the tables of results name it.
struct Compared {
  std::string kind, name;
  bilancetta::Hypothesis hypothesis;
};

inline constexpr const char* compared_kinds[] = {"solid, melted", "solid, porous", "plated",  "inlay",
                                                 "joined",        "hollow",        "open mix"};

/// Of each kind the middle one, or `each` if that is more: spread evenly from the narrowest to the widest prediction of
/// density, with the one that has most variables; coated ones at 0.1 cm3 and the extremes at 0.002 and 16 cm3 too.
std::vector<Compared> spread_of_hypotheses(const bilancetta::Tables& tables, int each);
/// Every one, coated ones at 0.1 cm3.
std::vector<Compared> all_hypotheses(const bilancetta::Tables& tables);

/// How a hypothesis spreads over density, by random draws of its own.
class DensityPilot
{
 public:
  explicit DensityPilot(const bilancetta::Hypothesis& hypothesis);
  /// Densities where the evidence is highest, and 2.5 % and 97.5 % of pieces lie below.
  [[nodiscard]] std::vector<double> typical_densities() const;
  /// Lowest and highest density at which a reading of this uncertainty has an evidence above 1/800 of its highest; at
  /// least 5 u and within the grid.
  [[nodiscard]] std::vector<double> outermost_densities(double u) const;

 private:
  [[nodiscard]] double evidence_at(double density, double u) const;
  [[nodiscard]] double highest_evidence(double u) const;
  double log_step_ = 0.0, lowest_ = 0.0;
  double scatter_ = 0.0;
  std::vector<double> mass_;
};

}  // namespace validation
