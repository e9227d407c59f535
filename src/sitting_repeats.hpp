#pragma once

#include <vector>

namespace bilancetta
{

/// The middle one of some dry weights of one name, g; puts them in another order.
double middle_dry_g(std::vector<double>& dry_g);
/// Whether a dry weight and its standard uncertainty are near enough to the middle one to be of the same piece.
bool may_be_one_piece(double dry_g, double dry_u, double middle_g);

}  // namespace bilancetta
