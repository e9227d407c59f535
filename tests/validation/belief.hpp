#pragma once

#include <array>
#include <vector>

/// What somebody believes of a piece, and proper scores of it (Gneiting & Raftery 2007,
/// doi:10.1198/016214506000001437).
struct Belief {
  static constexpr int levels = 400;
  std::array<double, 4> builds{};  ///< solid, plated, inlay, other
  double cadmium = 0.0;            ///< probability that it holds any worth naming
  double low = 0.0, high = 0.0;    ///< equal-tailed 95 % band of the silver fraction
  std::vector<double> quantile;    ///< of the silver fraction at (k + 1/2) / levels

  /// Sets band and quantiles from a function that gives the quantile at a probability; called with rising ones.
  template <typename F>
  void set_silver(const F& quantile_at)
  {
    quantile.clear();
    for (int k = 0; k < levels; ++k) {
      quantile.push_back(quantile_at((k + 0.5) / levels));
    }
    low = quantile_at(0.025);
    high = quantile_at(0.975);
  }
};

/// Width of the band plus 40 times what the truth lies outside (their equation 43 at 95 %).
double interval_score(const Belief& belief, double truth);
/// Continuous ranked probability score as twice the integral of the quantile score over all levels.
double ranked_score(const Belief& belief, double truth);
/// -ln of the probability given to what is so, at most 13.8.
double log_loss(const Belief& belief, int build);
