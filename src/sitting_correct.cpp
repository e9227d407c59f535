#include <algorithm>
#include <cmath>

#include "bilancetta/sitting.hpp"
#include "displacement_errors.hpp"
#include "sitting_adjust.hpp"

namespace bilancetta
{

namespace
{

double value_of(const SittingResult& result, SharedError error)
{
  return result.shared[static_cast<int>(error)].value;
}

// How the displaced weight of a row moves with an offset of the reading in the liquid.
double offset_sign(const SittingBench& bench)
{
  return bench.way == Way::rise ? -1.0 : 1.0;
}

// Then every weighing keeps its own account, unless zero or drift were said to be larger than that account holds.
bool taught_nothing(const SittingResult& result)
{
  constexpr double rounding = 1.0 + 1e-9;
  const auto in_account = [&](SharedError error, double part) {
    return std::pow(result.shared[static_cast<int>(error)].prior_u, 2) <= rounding * part * result.box_variance;
  };
  return result.informative_rows == 0 && in_account(SharedError::zero, zero_part) &&
         in_account(SharedError::drift, drift_part);
}

}  // namespace

double sitting_time(const SittingResult& result, long row)
{
  const auto length = static_cast<double>(result.last_row - result.first_row);
  return length > 0.0 ? std::clamp(static_cast<double>(row - result.first_row) / length, 0.0, 1.0) - 0.5 : 0.0;
}

Weighing corrected(const SittingResult& result, const Weighing& weighing, long row)
{
  if (result.rows == 0 || weighing.shared || taught_nothing(result) || !result.bench.is_that_of(weighing)) {
    return weighing;
  }
  Weighing w = weighing;
  const double time = sitting_time(result, row);
  const double sign = offset_sign(result.bench);
  w.surroundings.liquid_shift_g_cm3 = value_of(result, SharedError::liquid_density);
  const double air = air_density_g_cm3(w.surroundings.air);
  const double displaced = std::max(displacement_of(w.readings).displaced_g, liquid_scale_of(w).readability_g);
  // A denser liquid acts like less of it displaced.
  const SharedVector j(-displaced / (liquid_density_of(w.surroundings).g_cm3 - air), sign, sign * time, 0.0);
  SharedErrors shared;
  shared.displaced_shift_g = sign * (value_of(result, SharedError::zero) + time * value_of(result, SharedError::drift));
  shared.displaced_u_g = std::hypot(shared_u(result, j), result.dark_u_g);
  shared.own_share = 1.0 - shared_part_at(time);
  shared.span = value_of(result, SharedError::gain);
  w.shared = shared;
  return w;
}

SharedSensitivity sensitivity_of(const SittingResult& result, const Weighing& weighing, long row)
{
  SharedSensitivity s;
  if (result.rows == 0 || !result.bench.is_that_of(weighing)) {
    return s;
  }
  const Weighing w = corrected(result, weighing, row);
  Displacement d = displacement_of(w.readings);
  const LiquidDensity liquid = liquid_density_of(w.surroundings);
  const double air = air_density_g_cm3(w.surroundings.air);
  const DisplacementErrors e = displacement_errors_of(w, d, liquid, air);
  d.displaced_g += e.mean_g();
  if (!(d.displaced_g > 0.0)) {
    return s;
  }
  const double gain = 1.0 + value_of(result, SharedError::gain);
  const double difference = liquid.g_cm3 - air;
  const double volume = conventional_factor * d.displaced_g / (difference * gain);
  const double mass = conventional_factor * d.dry_g / gain + air * volume;
  const double sign = offset_sign(result.bench);
  const double time = sitting_time(result, row);
  s.displaced = SharedVector(0.0, sign, sign * time, -d.displaced_g / gain) / gain;
  s.volume = conventional_factor / difference * s.displaced;
  s.volume[static_cast<int>(SharedError::liquid_density)] = -volume / difference;
  s.mass = air * s.volume;
  s.mass[static_cast<int>(SharedError::gain)] = -mass / gain;
  s.density = (s.mass - mass / volume * s.volume) / volume;
  return s;
}

double shared_u(const SittingResult& result, const SharedVector& j)
{
  return std::sqrt(std::max(j.dot(result.covariance * j), 0.0));
}

}  // namespace bilancetta
