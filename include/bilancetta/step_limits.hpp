#pragma once

#include <array>
#include <functional>
#include <string_view>

#include "bilancetta/bench_test.hpp"

namespace bilancetta
{

/// Probabilities from which a hazard is plausible, suspected, likely.
inline constexpr std::array<double, 3> hazard_from = {0.02, 0.1, 0.5};

/// What a piece may still be put to, by what it may hold (judgement; docs/method.md section 12).
struct StepLimits {
  bool files = true;  ///< a stroke of the file, which makes dust
  bool rubs = true;   ///< on paper
  bool drops = true;  ///< which dissolve a little of it
  bool wets = true;   ///< weighing it in a liquid once more

  [[nodiscard]] bool allows(const BenchTest& test) const;
};
/// @param probability  of a hazard, by the key of its caution; 0 or less if it is not plausible
StepLimits step_limits(const std::function<double(std::string_view)>& probability);

}  // namespace bilancetta
