#pragma once

#include <algorithm>
#include <cmath>
#include <random>

#include "bilancetta/jar.hpp"

namespace bilancetta
{

using Grams = std::array<double, 4>;

// A group ready to be drawn: the grams of each metal in all of it if it is this material, mean and sd.
struct Drawn {
  std::vector<double> up_to;  // cumulative probability
  std::vector<int> hypothesis;
  std::vector<Grams> mean_g, sd_g;
  Grams mean_of_all{}, sd_between{};
  double rows = 1.0;  // how many equal ones are worth as much
  double mass_g = 0.0;
  std::vector<std::pair<std::size_t, double>> pile_share;  // of what is drawn: pile and share
};

// Groups of many rows each, every row on its own: near normal, with the departures of recipes kept apart.
struct Many {
  Grams mean_g{}, variance{};
  std::vector<Grams> sd_g;  // by hypothesis

  void add(const Drawn& d)
  {
    for (std::size_t m = 0; m < mean_g.size(); ++m) {
      mean_g[m] += d.mean_of_all[m];
      variance[m] += d.sd_between[m] * d.sd_between[m] / d.rows;
      for (std::size_t k = 0; k < d.up_to.size(); ++k) {
        sd_g[d.hypothesis[k]][m] += (d.up_to[k] - (k > 0 ? d.up_to[k - 1] : 0.0)) * d.sd_g[k][m];
      }
    }
  }
};

class Simulation
{
 public:
  explicit Simulation(int hypotheses) : departure_(hypotheses) {}

  // The recipe of each material departs alike wherever it occurs in the jar.
  void next()
  {
    for (double& z : departure_) {
      z = normal();
    }
  }
  double normal()
  {
    const double radius = std::sqrt(-2.0 * std::log(1.0 - uniform()));
    return radius * std::cos(2.0 * M_PI * uniform());
  }
  // All rows of the group are one material.
  Grams alike(const Drawn& d)
  {
    Grams grams{};
    add(d, pick(d), 1.0, grams);
    return grams;
  }
  // Each row of these few is a material of its own.
  Grams apart(const Drawn& d)
  {
    Grams grams{};
    const double rows = std::max(1.0, std::round(d.rows));
    for (int i = 0; i < static_cast<int>(rows); ++i) {
      add(d, pick(d), 1.0 / rows, grams);
    }
    return grams;
  }
  // All groups of many rows at once.
  Grams apart(const Many& many)
  {
    Grams grams{};
    for (std::size_t m = 0; m < grams.size(); ++m) {
      grams[m] = many.mean_g[m] + std::sqrt(many.variance[m]) * normal();
    }
    for (std::size_t h = 0; h < many.sd_g.size(); ++h) {
      for (std::size_t m = 0; m < grams.size(); ++m) {
        grams[m] += many.sd_g[h][m] * departure_[h];
      }
    }
    for (double& g : grams) {
      g = std::max(0.0, g);
    }
    return grams;
  }

 private:
  double uniform() { return static_cast<double>(random_() >> 11) * 0x1p-53; }
  std::size_t pick(const Drawn& d)
  {
    const auto match = std::lower_bound(d.up_to.begin(), d.up_to.end(), uniform());
    return std::min<std::size_t>(static_cast<std::size_t>(match - d.up_to.begin()), d.up_to.size() - 1);
  }
  // Log-normal about the mean: never below nothing, and at most all of it.
  void add(const Drawn& d, std::size_t k, double share, Grams& grams) const
  {
    for (std::size_t m = 0; m < grams.size(); ++m) {
      const double mean = d.mean_g[k][m];
      if (mean > 0.0) {
        const double relative = d.sd_g[k][m] / mean;
        const double variance = std::log1p(relative * relative);
        const double z = departure_[static_cast<std::size_t>(d.hypothesis[k])];
        grams[m] += share * std::min(d.mass_g, mean * std::exp(std::sqrt(variance) * z - 0.5 * variance));
      }
    }
  }

  std::vector<double> departure_;
  std::mt19937_64 random_{20240601U};
};

}  // namespace bilancetta
