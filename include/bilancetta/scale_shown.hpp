#pragma once

#include <optional>
#include <vector>

namespace bilancetta
{

/// Step and repeatability of a scale from readings of one coin.
struct ScaleShown {
  double readability_g = 0.0;  ///< smallest difference between displays, or from the decimals if they are all alike
  double scatter_g = 0.0;      ///< standard deviation of the readings, the rounding's share taken off
  /// What to take for it: few readings may lie closer together than the scale repeats. The scatter times Student's t at
  /// 97.5 % over the normal distribution's 1.96, so that a band made with it holds 95 % (JCGM 100:2008, G.3).
  double repeatability_g = 0.0;
  bool all_alike = false;  ///< then the scatter is only known to be below about a third of a step
  /// A reading farther from the median than six times the scatter of the rest: a slip of the pen, perhaps. It counts in
  /// the scatter above.
  std::optional<double> stray_g;
};
/// @param decimals  that were typed
/// @throws Error (bad_option) for fewer than five readings.
ScaleShown scale_shown_by(const std::vector<double>& readings_g, int decimals);

}  // namespace bilancetta
