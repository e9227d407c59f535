#include "conductivity.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

namespace bilancetta
{

ConductivityOdds conductivity_odds_of(const Tables& tables, const BenchTest& test, const Hypothesis& h)
{
  if (h.kind == Kind::open_mix) {
    return {};
  }
  const Range& outer = tables.materials[h.outer_material].conductivity_iacs;
  const Range& inner = h.inner_material >= 0 ? tables.materials[h.inner_material].conductivity_iacs : outer;
  if (outer.typical <= 0.0 || inner.typical <= 0.0) {
    return {};
  }
  const double low = std::max(h.kind == Kind::plated ? inner.low : std::min(outer.low, inner.low), 0.1);
  const double high = h.kind == Kind::plated ? inner.high : std::max(outer.high, inner.high);
  const double sd = std::hypot(std::max(test.relative_sd, 0.05), std::log(high / low) / 4.0);
  return {0.5 * std::log(low * high), sd};
}

double ConductivityOdds::at(double ln_reading) const
{
  constexpr double odd = 0.02;
  if (sd <= 0.0) {
    return 0.25;  // flat over about e^4 in the reading
  }
  const double distance = (ln_reading - middle) / sd;
  return odd + (1.0 - odd) * std::exp(-0.5 * distance * distance) / (sd * std::sqrt(2.0 * M_PI));
}

double ln_conductivity_from(const std::string& answer)
{
  double reading = 0.0;
  std::from_chars(answer.data(), answer.data() + answer.size(), reading);
  return std::log(reading);
}

}  // namespace bilancetta
