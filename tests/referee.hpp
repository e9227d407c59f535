#pragma once

#include <vector>

#include "bilancetta/analysis.hpp"

namespace referee
{

/// Ends of the 95 % band of one mass fraction.
struct Ends {
  double low = 0.0, high = 0.0;
};
/// The mean of the likelihood exp(-off_from^2 / 2) under a hypothesis, and what it leaves of the fractions.
struct Answer {
  double evidence = 0.0;
  std::vector<Ends> bands;  ///< of each constituent that was asked for
};

/// The same by random draws, with what their number leaves open.
struct BruteAnswer : Answer {
  double effective_draws = 0.0;
  std::vector<Ends> least, most;  ///< ends at 2.5 % and 97.5 % minus and plus two standard errors of the weighted draws
};

/// By random draws of z and of the scatter, until each of the standard uncertainties has `wanted` effective draws or
/// 60 million were made. Draws are made where the reading is and weighed by N(z; 0, I) / their own density; no
/// quasi-random points, no tables, nothing integrated: independent of all that the library does after evaluate().
std::vector<BruteAnswer> brute_force(const bilancetta::Hypothesis& hypothesis, double density,
                                     const std::vector<double>& uncertainties, const std::vector<int>& constituents,
                                     unsigned seed, double wanted = 40000.0);

/// From the library's tables: evidence, and the bands by its weighted draws.
Answer by_tables(const bilancetta::Member& member, double density, double u, const std::vector<int>& constituents);

/// Silver as batches read it, from the table of silver given density.
Ends silver_as_in_batches(const bilancetta::Member& member, double density, double u);

/// How many standard uncertainties a density lies above the one that was read. Likelihoods here are Gaussians in it,
/// cut at 6: in density, or in its logarithm where 6 u is more than 0.8 of the density.
double off_from(double read_density, double u, double density);
bilancetta::DensityCurve gaussian_curve(double density, double u);

/// How far a value lies outside a range; 0 within it.
double departure_of(double value, double least, double most);

}  // namespace referee
