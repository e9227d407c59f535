#pragma once

#include "bilancetta/analysis.hpp"

namespace referee
{

/// Evidence and a band by plain random draws: z ~ N(0, I), scatter drawn too, no quasi-random points,
/// no tables, no importance weights. Independent of everything the library does after evaluate().
struct Answer {
  double evidence = 0.0;         ///< mean of the likelihood exp(-((rho - density)/u)^2 / 2)
  double low = 0.0, high = 0.0;  ///< 95 % band of the mass fraction of a constituent
  double effective_draws = 0.0;
};
Answer brute_force(const bilancetta::Hypothesis& hypothesis, double density, double u, int constituent, unsigned seed);

/// The same from the library's tables: evidence, and the band by its weighted draws.
Answer by_tables(const bilancetta::Member& member, double density, double u, int constituent);

/// A curve that is a Gaussian in density.
bilancetta::DensityCurve gaussian_curve(double density, double u);

}  // namespace referee
