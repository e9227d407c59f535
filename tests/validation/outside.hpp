#pragma once

// Our densities beside those that others print.

#include <string>
#include <vector>

#include "alloy_rows.hpp"

namespace validation
{

enum class Agreement { agrees, known, differs };

struct Comparison {
  std::string kind;  ///< element, alloy, heavy alloy, karat gold
  std::string what, source, outside, tolerance, reason;
  double ours = 0.0, off_percent = 0.0;  ///< outside / ours - 1; for a window 0 inside it
  Agreement agreement = Agreement::differs;
};

/// Every comparison of the files of tests/published.
std::vector<Comparison> outside_comparisons(const bilancetta::Tables& tables, const std::string& published);

}  // namespace validation
