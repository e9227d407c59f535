#pragma once

#include <optional>
#include <string>

#include "bilancetta/plan.hpp"

namespace bilancetta
{

/// What is asked of a plan.
struct PlanQuestion {
  PlannedWeighing weighing;
  std::string scale_words;                   ///< "a pocket scale (0.01 g steps)"
  std::optional<std::pair<int, int>> apart;  ///< two materials to be told apart
  std::optional<Claim> claim;
  std::string place;  ///< key of a place, or empty
  Form form = Form::solid;
  double confidence = 0.95;  ///< chance of telling apart that is wanted
  double level = 0.95;       ///< coverage of the bands
};

/// Of the two that are to be told apart the lighter, of what is claimed, else of silver.
double least_density_asked(const Tables& tables, const PlanQuestion& question);
/// One screen for a person, at 80 columns.
std::string plan_text(const Tables& tables, const PlanQuestion& question);
std::string plan_json(const Tables& tables, const PlanQuestion& question);

}  // namespace bilancetta
