#include "belief.hpp"

#include <algorithm>
#include <cmath>

double interval_score(const Belief& belief, double truth)
{
  const double outside = std::max({0.0, belief.low - truth, truth - belief.high});
  return belief.high - belief.low + 2.0 / 0.05 * outside;
}

double ranked_score(const Belief& belief, double truth)
{
  double sum = 0.0;
  for (int k = 0; k < Belief::levels; ++k) {
    const double level = (k + 0.5) / Belief::levels;
    const double over = belief.quantile[k] - truth;
    sum += 2.0 * ((over >= 0.0 ? 1.0 : 0.0) - level) * over;
  }
  return sum / Belief::levels;
}

double log_loss(const Belief& belief, int build)
{
  return -std::log(std::max(belief.builds.at(build), 1e-6));
}
