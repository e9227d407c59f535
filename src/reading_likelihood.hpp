#pragma once

#include <array>
#include <utility>
#include <vector>

#include "bilancetta/weighing.hpp"

namespace bilancetta
{

/// How well each true value explains some displayed readings: a function on an even grid of values,
/// linear between its points, zero outside. Every kind of error is one smoothing of it.
class ReadingLikelihood
{
 public:
  static constexpr int most_points = 192;
  /// Readings of one quantity by one scale. Each display is known to half a step (an interval, not a
  /// Gaussian), with normal noise; several readings multiply, the noise then mixed over a scaled
  /// inverse chi-square about the scale's repeatability so that their own scatter counts (Student t
  /// for few). `margin_below` and `margin_above` leave room for the smoothings that follow.
  /// `points` of the grid, in fours and at most 192: fewer do where another error is much wider.
  ReadingLikelihood(const std::vector<double>& displayed_g, const Scale& scale, double margin_below_g,
                    double margin_above_g, int points = most_points);

  /// An error anywhere within +-half_width: linearity, meniscus, a second rounded number.
  void smooth_box(double half_width_g) noexcept;
  /// A normal error (three boxes of the same variance: tails end at 3 standard deviations).
  void smooth_normal(double standard_deviation_g);
  /// The reading exceeds the true value by an exponential amount of this mean.
  void smooth_excess(double mean_g);
  /// The reading falls short of the true value by an exponential amount of this mean.
  void smooth_shortfall(double mean_g);

  [[nodiscard]] double operator()(double value_g) const
  {
    const double place = (value_g - start_) * per_step_;
    const int i = static_cast<int>(place);
    if (place < 0.0 || i + 1 >= size_) {
      return 0.0;
    }
    return value_[i] + (place - i) * (value_[i + 1] - value_[i]);
  }
  /// Adds `weight` times the function at first_g, first_g + step_g, ... to each of `out` in turn; step_g is not 0.
  void add_line(double first_g, double step_g, double weight, std::vector<double>& out) const noexcept;
  /// Ends of the values that are not negligible (1e-9 of the highest).
  struct Support {
    double low, high;
  };
  [[nodiscard]] Support support() const;

 private:
  void fill(const std::vector<double>& displayed_g, const Scale& scale);
  void fill_with_one(double displayed_g, double half_step, double noise) noexcept;
  double multiply_readings(const std::vector<std::pair<double, int>>& readings, double half_step, double per_noise,
                           std::array<double, most_points>& product) const;
  [[nodiscard]] std::array<double, most_points> integral_up_to_each() const;
  int size_;
  double start_, step_, per_step_;
  std::array<double, most_points + 1> value_{};  // and one behind the last: rounding may step over the end
};

}  // namespace bilancetta
