#pragma once

// Pieces drawn from the model's own prior, and their weighings on simulated scales.

#include <random>
#include <vector>

#include "bilancetta/analysis.hpp"

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
  PieceSource(const bilancetta::Tables& tables, unsigned seed) : tables_(&tables), random_(seed) {}
  [[nodiscard]] double uniform(double low, double high);
  /// A piece that reads `dry_g` in air, weighed once by the cup; the errors are those of docs/uncertainty.md.
  SimulatedPiece draw(const std::vector<const bilancetta::Member*>& members, const std::vector<double>& prior,
                      const bilancetta::Scale& scale, double dry_g);

 private:
  double normal(double sd);
  bilancetta::Weighing weighed(const bilancetta::Scale& scale, double dry_g, double density);
  const bilancetta::Tables* tables_;
  std::mt19937_64 random_;
};

}  // namespace validation
