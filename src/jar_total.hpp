#pragma once

#include "bilancetta/jar.hpp"

namespace bilancetta
{

/// Adds the bands of metals, piles, lots and worth; that of silver takes in `sitting_u_g`, which belongs to no group.
void add_totals(const Jar::Lots& lots, const std::vector<Jar::Kind>& kinds, const JarOptions& options,
                JarSummary& summary);

}  // namespace bilancetta
