#pragma once

// Pieces drawn from the model's own prior and weighed on a simulated scale, for the validation programs.

#include <random>
#include <vector>

#include "bilancetta/analysis.hpp"

namespace simulated
{

double uniform(double low, double high);
double normal(double sd);
std::mt19937_64& random_source();

struct Truth {
  std::size_t member = 0;
  double density = 0.0, silver = 0.0;
};

/// A weighing by the cup of a piece of this density; the errors are those of docs/uncertainty.md.
bilancetta::Weighing weighed(const bilancetta::Scale& scale, double dry, double density);

/// A piece of one hypothesis; its density and its fraction of the constituent `silver`.
Truth truth_of(const std::vector<const bilancetta::Member*>& members, std::size_t member, int silver);
/// A piece of a hypothesis drawn by the prior.
Truth drawn_truth(const std::vector<const bilancetta::Member*>& members, const std::vector<double>& prior, int silver);

}  // namespace simulated
