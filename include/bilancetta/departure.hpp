#pragma once

#include <string>
#include <utility>
#include <vector>

#include "bilancetta/material.hpp"

namespace bilancetta
{

/// How far the alloys of one system depart from ideal mixing: measured density / ideal density - 1 as a
/// piecewise linear function of the mass fraction of its solutes, from 0 at none to the last knot, beyond which
/// nothing was measured. Fitted from measured rows by tests/validation/fit_departures.cpp.
struct Departure {
  std::string key, name;
  std::vector<int> constituents;                 ///< all must be there; indices into Tables::constituents
  std::vector<int> solutes;                      ///< their mass fractions together are the variable
  double others = 0.0;                           ///< mass fraction of anything else that is allowed, in all
  std::vector<std::pair<double, double>> knots;  ///< solutes, departure; the first is 0, 0
  double scatter = 0.002;                        ///< relative standard deviation of alloys about the function
  int rows = 0;                                  ///< measured rows behind it
  Origin origin;
};

/// Volume share of pores that a way of making leaves: one-sided, so its low end is 0.
struct Process {
  std::string key, name;
  Range pores;
  double scatter = 0.002;
  int rows = 0;
  Origin origin;
};

/// The system that a composition belongs to, or none: at least 1 % of every constituent of it, no more of others
/// than it allows, solutes within its knots. Of several the one with most constituents.
const Departure* system_of(const std::vector<Departure>& departures, const std::vector<Component>& composition);
/// The departure of a composition's typical values; 0 where no system applies.
double departure_of(const std::vector<Departure>& departures, const std::vector<Component>& composition);
/// Mass fraction of the system's solutes in a composition.
double solutes_of(const Departure& departure, const std::vector<Component>& composition);
/// The function itself; flat beyond the last knot.
double departure_at(const Departure& departure, double solutes);

}  // namespace bilancetta
