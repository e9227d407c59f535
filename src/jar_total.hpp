#pragma once

#include "bilancetta/jar.hpp"

namespace bilancetta
{

/// Adds the bands of metals, piles, lots and worth. @param common_u_g  standard uncertainty of the silver total that
/// belongs to no group
void add_totals(const std::vector<Jar::Group>& groups, double common_u_g, const JarOptions& options,
                JarSummary& summary);

}  // namespace bilancetta
