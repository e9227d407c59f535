#pragma once

#include <string>

#include "bilancetta/hypothesis.hpp"
#include "bilancetta/tables.hpp"

namespace bilancetta
{

/// How the logarithm of a conductivity meter's reading in %IACS is spread for one hypothesis: a normal distribution as
/// wide as the metal's range and the meter's error, on a floor for odd readings.
struct ConductivityOdds {
  double middle = 0.0, sd = 0.0;  ///< sd 0: nothing is known of it
  /// Density in the logarithm.
  [[nodiscard]] double at(double ln_reading) const;
};
/// A probe sees through a coat to the core; in an inlay something between face and carrier.
ConductivityOdds conductivity_odds_of(const Tables& tables, const BenchTest& test, const Hypothesis& hypothesis);
/// Logarithm of an answer's number.
double ln_conductivity_from(const std::string& answer);

}  // namespace bilancetta
