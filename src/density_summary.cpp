#include "bilancetta/density.hpp"

#include <algorithm>
#include <cmath>

#include "curve_cells.hpp"
#include "words.hpp"

namespace bilancetta
{

namespace
{

constexpr double well_explained = 1e-2;       // likelihood over the highest
constexpr double platinum_from_g_cm3 = 20.0;  // only platinum, iridium, osmium and their alloys

// Cells from the densest down, with the mass passed at the end of each: quantiles are then a walk over numbers.
class Cells
{
 public:
  explicit Cells(const DensityCurve& curve)
  {
    cells_.reserve(curve.likelihood.size() + 32);
    for_each_cell(curve, density_grid::lowest_g_cm3, [&](double lower, double upper, double at_lower, double at_upper) {
      const double mass = 0.5 * (at_lower + at_upper) * (upper - lower);
      total_ += mass;
      highest_ = std::max(highest_, at_upper);
      cells_.push_back({lower, upper, at_lower, at_upper, total_, mass});
    });
  }
  // Do the readings allow any density that is considered? The curve's highest is 1.
  [[nodiscard]] bool possible() const { return highest_ >= well_explained; }

  struct Moments {
    double mean, standard_deviation;
  };
  [[nodiscard]] Moments moments() const
  {
    double first = 0.0;
    double second = 0.0;
    for (const Cell& c : cells_) {
      const double middle = 0.5 * (c.lower + c.upper);
      first += c.mass * middle;
      second += c.mass * middle * middle;
    }
    const double mean = first / total_;
    return {mean, std::sqrt(std::max(second / total_ - mean * mean, 0.0))};
  }
  // Likelihood of the heaviest density that is considered, if the cells reach it.
  [[nodiscard]] double at_densest() const
  {
    return cells_.front().upper > 0.9999 * density_grid::highest_g_cm3 ? cells_.front().at_upper : 0.0;
  }

  // Density below which this share of the mass lies.
  [[nodiscard]] double quantile(double probability) const
  {
    const double above = (1.0 - probability) * total_;
    const auto next =
        std::partition_point(cells_.begin(), cells_.end(), [&](const Cell& c) { return c.passed < above; });
    if (next == cells_.end()) {
      return density_grid::lowest_g_cm3;
    }
    // Inside the cell the likelihood is linear; solve the quadratic for the wanted share.
    const double want = (above - (next->passed - next->mass)) / (next->upper - next->lower);
    const double slope = next->at_lower - next->at_upper;
    const double root = std::sqrt(std::max(next->at_upper * next->at_upper + 2.0 * slope * want, 1e-300));
    const double t = 2.0 * want / (next->at_upper + root);
    return next->upper - std::clamp(t, 0.0, 1.0) * (next->upper - next->lower);
  }

 private:
  struct Cell {
    double lower, upper, at_lower, at_upper;
    double passed;  // mass from the densest to the end of this one
    double mass;    // its own
  };
  std::vector<Cell> cells_;
  double total_ = 0.0, highest_ = 0.0;
};

}  // namespace

DensitySummary summary_of(const DensityCurve& curve, const Weighing& weighing, double level)
{
  const Cells cells(curve);
  DensitySummary s;
  s.level = level;
  if (cells.possible()) {
    s.value = cells.quantile(0.5);
    s.standard_uncertainty = cells.moments().standard_deviation;
    s.low = cells.quantile(0.5 - 0.5 * level);
    s.high = cells.quantile(0.5 + 0.5 * level);
    // Is the heaviest density still well explained? Above gold and tungsten that tells enough.
    s.bounded = cells.at_densest() < well_explained || s.low > platinum_from_g_cm3;
  } else {
    s.possible = false;  // too heavy, or lighter than 0.5
    s.bounded = curve.share_at(static_cast<double>(curve.likelihood.size()) - 1.0) > 0.5;
    s.value = s.low = s.high = s.bounded ? density_grid::lowest_g_cm3 : density_grid::highest_g_cm3;
  }
  s.high = s.bounded ? s.high : density_grid::highest_g_cm3;
  Displacement d = displacement_of(weighing.readings);
  d.displaced_g += weighing.shared ? weighing.shared->displaced_shift_g : 0.0;
  if (d.displaced_g > 0.0) {
    s.plain = density_from(d.dry_g, d.displaced_g, curve.liquid_g_cm3, curve.air_g_cm3);
    s.relative_density = d.dry_g / d.displaced_g;
  }
  return s;
}

int decimals_supported_by(double standard_uncertainty)
{
  return std::clamp(static_cast<int>(std::ceil(-std::log10(std::max(standard_uncertainty, 1e-9) / 3.0))), 0, 6);
}

namespace
{

constexpr double nearly_none = 1e-9;  // of a step: what is binary only

}  // namespace

std::string low_end(double low, int decimals)
{
  const double steps = std::pow(10.0, decimals);
  return fixed(std::floor(low * steps + nearly_none) / steps, decimals);
}

std::string high_end(double high, int decimals)
{
  const double steps = std::pow(10.0, decimals);
  return fixed(std::ceil(high * steps - nearly_none) / steps, decimals);
}

}  // namespace bilancetta
