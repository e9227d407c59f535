#pragma once

// Pieces drawn from the model's own prior, and their weighings on simulated scales.

#include <vector>

#include "bilancetta/analysis.hpp"
#include "simulated_weighing.hpp"

namespace validation
{

struct SimulatedPiece {
  std::size_t member = 0;  ///< the hypothesis that it was drawn from
  double density = 0.0, mass_g = 0.0;
  std::vector<double> fractions;  ///< of each constituent of the tables
  bilancetta::Weighing weighing;
};

class PieceSource
{
 public:
  PieceSource(const bilancetta::Tables& tables, unsigned seed) : tables_(&tables), simulation_(seed) {}
  [[nodiscard]] double uniform(double low, double high) { return simulation_.uniform(low, high); }
  /// A piece that reads `dry_g` in air, weighed once by the cup; the errors are those of docs/uncertainty.md.
  SimulatedPiece draw(const bilancetta::Members& members, const std::vector<double>& prior,
                      const bilancetta::Scale& scale, double dry_g);

 private:
  const bilancetta::Tables* tables_;
  bilancetta::Simulation simulation_;
};

}  // namespace validation
