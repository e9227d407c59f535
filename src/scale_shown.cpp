#include "bilancetta/scale_shown.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "bilancetta/error.hpp"
#include "bilancetta/weighing.hpp"

namespace bilancetta
{

namespace
{

double scatter_of(const std::vector<double>& readings_g, double step_g)
{
  const auto count = static_cast<double>(readings_g.size());
  const double mean = std::accumulate(readings_g.begin(), readings_g.end(), 0.0) / count;
  double squares = 0.0;
  for (const double value : readings_g) {
    squares += (value - mean) * (value - mean);
  }
  const double variance = squares / (count - 1.0) - step_g * step_g / 12.0;
  // Less than a third of a step cannot be seen through the rounding.
  return std::max(std::sqrt(std::max(variance, 0.0)), 0.3 * step_g);
}

std::optional<double> stray_among(const std::vector<double>& sorted, double step_g)
{
  constexpr double far = 6.0;  // judgement
  const double median = sorted[sorted.size() / 2];
  const bool first = median - sorted.front() > sorted.back() - median;
  const std::vector<double> rest(sorted.begin() + (first ? 1 : 0), sorted.end() - (first ? 0 : 1));
  const double off = first ? median - sorted.front() : sorted.back() - median;
  return off > far * scatter_of(rest, step_g) ? std::optional(first ? sorted.front() : sorted.back()) : std::nullopt;
}

// Student's t at 97.5 % over the normal distribution's: Abramowitz and Stegun, Handbook of Mathematical
// Functions, 26.7.5 (from memory), within 0.3 % from four degrees of freedom on.
double t_over_normal(double freedom)
{
  constexpr double z2 = 1.959964 * 1.959964;
  const double first = (z2 + 1.0) / 4.0;
  const double second = ((5.0 * z2 + 16.0) * z2 + 3.0) / 96.0;
  const double third = (((3.0 * z2 + 19.0) * z2 + 17.0) * z2 - 15.0) / 384.0;
  return 1.0 + (first + (second + third / freedom) / freedom) / freedom;
}

}  // namespace

ScaleShown scale_shown_by(const std::vector<double>& readings_g, int decimals)
{
  if (readings_g.size() < 5) {
    throw Error(ErrorCode::bad_option, "at least five readings of one coin are needed, better ten",
                {.field = "--same-coin"});
  }
  for (const double reading_g : readings_g) {
    if (!(reading_g >= lightest_g && reading_g <= heaviest_g)) {
      throw Error(
          ErrorCode::bad_option,
          fmt::format("{} g is no weight of a coin; {} to {:.0f} g is expected", reading_g, lightest_g, heaviest_g),
          {.field = "--same-coin"});
    }
  }
  ScaleShown shown;
  const double typed = std::pow(10.0, -decimals);
  std::vector<double> sorted = readings_g;
  std::sort(sorted.begin(), sorted.end());
  double step = 0.0;
  for (std::size_t i = 1; i < sorted.size(); ++i) {
    const double difference = sorted[i] - sorted[i - 1];
    if (difference > 0.5 * typed && (step == 0.0 || difference < step)) {
      step = difference;
    }
  }
  shown.all_alike = step == 0.0;
  // Steps of 2 and 5 in the last digit exist; a larger smallest difference may be chance.
  const double in_digits = std::round(step / typed);
  shown.readability_g = in_digits == 2.0 || in_digits == 5.0 ? in_digits * typed : typed;
  shown.scatter_g = scatter_of(sorted, shown.readability_g);
  const auto freedom = static_cast<double>(sorted.size()) - 1.0;
  shown.repeatability_g = shown.all_alike ? shown.scatter_g : shown.scatter_g * t_over_normal(freedom);
  shown.stray_g = stray_among(sorted, shown.readability_g);
  return shown;
}

}  // namespace bilancetta
