#pragma once

#include <optional>
#include <vector>

namespace bilancetta
{

/// Step and repeatability of a scale from readings of one coin.
struct ScaleShown {
  double readability_g = 0.0;    ///< smallest difference between displays, or from the decimals if they are all alike
  double repeatability_g = 0.0;  ///< scatter with the rounding's share taken off
  bool all_alike = false;        ///< then the scatter is only known to be below about a third of a step
  /// A reading farther from the median than six times the scatter of the rest: a slip of the pen, perhaps. It counts in
  /// the scatter above.
  std::optional<double> stray_g;
};
/// @param decimals  that were typed
/// @throws Error (bad_option) for fewer than five readings.
ScaleShown scale_shown_by(const std::vector<double>& readings_g, int decimals);

}  // namespace bilancetta
