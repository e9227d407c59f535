#pragma once

// Whether stated probabilities happen as often as they say, and whether ranks are uniform.

#include <array>
#include <string>
#include <vector>

#include "picture.hpp"

namespace validation
{

/// Reliability by tenths of the stated probability, and the expected calibration error.
class Reliability
{
 public:
  void add(double stated, bool happened);
  [[nodiscard]] double expected_error() const;
  /// About what that error is from chance alone, in so many cases of probabilities that are right.
  [[nodiscard]] double error_by_chance() const;
  /// A table of the tenths.
  void print(const std::string& what) const;
  [[nodiscard]] Picture picture(const std::string& title) const;

 private:
  struct Bin {
    double stated = 0.0, happened = 0.0, cases = 0.0;
  };
  std::array<Bin, 10> bins_;
};

/// Ranks of true values in their posteriors, from 0 to 1, in 20 bins.
class RankHistogram
{
 public:
  static constexpr int bins = 20;
  void add(double rank);
  [[nodiscard]] double cases() const { return cases_; }
  /// Of the chi-square statistic against even bins (19 degrees of freedom; Wilson and Hilferty's cube-root
  /// approximation, 1931).
  [[nodiscard]] double p_value() const;
  /// Dots: what was found over what is expected; the band holds 99 % of dots.
  [[nodiscard]] Picture picture(const std::string& title) const;

 private:
  std::array<double, bins> count_{};
  double cases_ = 0.0;
};

/// How often something held.
class Coverage
{
 public:
  void add(bool held)
  {
    held_ += held ? 1.0 : 0.0;
    cases_ += 1.0;
  }
  [[nodiscard]] double cases() const { return cases_; }
  [[nodiscard]] double percent() const { return cases_ > 0.0 ? 100.0 * held_ / cases_ : 0.0; }
  /// Three standard deviations that the number of cases leaves on a coverage of 95 %.
  [[nodiscard]] double slack() const;
  [[nodiscard]] bool within(double low, double high) const
  {
    return percent() >= low - slack() && percent() <= high + slack();
  }

 private:
  double held_ = 0.0, cases_ = 0.0;
};

}  // namespace validation
