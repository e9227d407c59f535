#include "simulated_pieces.hpp"

#include <cmath>

using namespace bilancetta;

namespace validation
{

namespace
{

constexpr double standard_air = 0.0012;
// Conventional mass: weights of 8 g/cm3 in standard air (OIML D 28:2004).
constexpr double per_reading = 1.0 - standard_air / 8.0;

}  // namespace

SimulatedPiece PieceSource::draw(const Members& members, const std::vector<double>& prior, const Scale& scale,
                                 double dry_g)
{
  SimulatedPiece piece;
  piece.member = simulation_.index(prior);
  const Hypothesis& h = members[piece.member]->hypothesis;
  double z[max_variables] = {};
  for (int k = 0; k < h.variables; ++k) {
    z[k] = simulation_.normal(1.0);
  }
  const Outcome<double> outcome = h.evaluate(z);
  piece.density = outcome.density * std::exp(simulation_.normal(h.scatter));
  piece.mass_g = per_reading * dry_g * piece.density / (piece.density - standard_air);
  for (int c = 0; c < static_cast<int>(tables_->constituents.size()); ++c) {
    piece.fractions.push_back(fraction_of(h, outcome, c));
  }
  piece.weighing = simulation_.weighed(scale, dry_g, piece.density);
  return piece;
}

}  // namespace validation
