#include "bilancetta/step_limits.hpp"

namespace bilancetta
{

bool StepLimits::allows(const BenchTest& test) const
{
  return (files || !bilancetta::files(test)) && (drops || !is_drop(test)) && (rubs || test.property != "paper");
}

// Dust of beryllium and anything of a bulb of mercury harm at once; of cadmium and magnesium a suspicion is not enough,
// or no contact could be tried.
StepLimits step_limits(const std::function<double(std::string_view)>& probability)
{
  const auto [plausible, suspected, likely] = hazard_from;
  const double cadmium = probability("cadmium");
  const double beryllium = probability("beryllium");
  const double mercury = probability("mercury");
  const bool burns = probability("magnesium") >= suspected;
  StepLimits limits;
  limits.files = cadmium < suspected && beryllium < plausible && mercury < plausible && !burns;
  limits.rubs = mercury < plausible;
  limits.drops = cadmium < likely && beryllium < suspected && mercury < plausible && !burns;
  limits.wets = mercury < suspected;
  return limits;
}

}  // namespace bilancetta
