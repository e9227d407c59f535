#pragma once

// The pages that the validation program writes: sections of docs/validation.md and docs/tables.md, docs/pictures.

#include <map>
#include <string>
#include <vector>

#include "leave_out.hpp"
#include "outside.hpp"

namespace validation
{

/// All that is compared and predicted, made once.
struct Findings {
  const bilancetta::Tables* tables = nullptr;
  std::vector<AlloyRow> rows;
  std::vector<Comparison> outside;
  std::map<Left, std::vector<LeftOut>> left;
  std::vector<LeftOut> beside;  ///< the row left out, specification minima counted too
};
Findings find(const bilancetta::Tables& tables, const std::string& tests);

/// What must be reached; the reasons are in docs/validation.md.
constexpr int least_comparisons = 120;
constexpr double most_median = 0.005, least_within = 0.80, least_held = 0.90;
/// Every bar that is missed, a line each; empty if all are reached.
std::string missed(const Findings& findings);

/// The section of docs/validation.md between its two marks.
std::string validation_section(const Findings& findings);
/// The section of docs/tables.md between its two marks.
std::string systems_section(const Findings& findings);
/// File name and text of each picture.
std::map<std::string, std::string> pictures(const Findings& findings);

}  // namespace validation
