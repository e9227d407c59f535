#pragma once

#include <vector>

#include "bilancetta/sitting.hpp"

namespace bilancetta
{

/// Zero and drift hold these parts of the variance of linearity, evaporation and drift of a reading in the liquid
/// (judgement): two fifths in the middle of the sitting, half of it at either end.
inline constexpr double zero_part = 0.4, drift_part = 0.4;
inline double shared_part_at(double time)
{
  return zero_part + drift_part * time * time;
}
/// -0.5 at the first row of the sitting, 0.5 at the last, 0 in a sitting of one row.
double sitting_time(const SittingResult& result, long row);

/// One number and what it should be, given the errors that a sitting shares and a piece's mass and volume.
struct Observation {
  enum class Law { dry, rise, hung, resting, known_density, known_mass };
  Law law = Law::dry;
  SittingReading reading = SittingReading::dry;
  long row = 0;
  double value = 0.0, u = 1.0;  ///< g or g/cm3
  double time = 0.0;            ///< -0.5 at the first row of the sitting, 0.5 at the last
  double liquid_g_cm3 = 0.0, air_g_cm3 = 0.0;
  bool used = true;

  /// shared: SharedError in its own unit, with derivatives or without; m and V in g and cm3.
  template <typename S, typename T>
  T expected(const S* shared, const T& m, const T& v) const
  {
    constexpr double k = conventional_factor;
    const S gain = 1.0 + shared[static_cast<int>(SharedError::gain)];
    const S offset = shared[static_cast<int>(SharedError::zero)] + time * shared[static_cast<int>(SharedError::drift)];
    const S liquid = liquid_g_cm3 + shared[static_cast<int>(SharedError::liquid_density)];
    switch (law) {
      case Law::dry:
        return gain * (m - air_g_cm3 * v) / k;
      case Law::rise:
        return gain * (liquid - air_g_cm3) * v / k + offset;
      case Law::hung:
        return gain * (m - liquid * v) / k + offset;
      case Law::resting:
        return gain * (m - air_g_cm3 * v) / k + offset;
      case Law::known_density:
        return m / v;
      case Law::known_mass:
        return m;
    }
    return T(0.0);
  }
};

/// All numbers of one piece, and a first guess of its mass and volume.
struct ObservedPiece {
  std::vector<Observation> observations;
  double mass_g = 0.0, volume_cm3 = 0.0;
};

/// Adjusts shared errors and pieces; fills `shared`, `covariance` and `readings` of the result, whose prior
/// uncertainties must be set.
/// @param threads  as for thread_count; the result is the same
void adjust_together(std::vector<ObservedPiece> pieces, SittingResult& result, int threads = 1);

}  // namespace bilancetta
