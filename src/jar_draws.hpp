#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "bilancetta/jar.hpp"

namespace bilancetta
{

using Grams = std::array<double, 4>;
/// Of each metal one value a draw.
using Columns = std::array<std::vector<double>, 4>;

/// A group ready to be drawn: the grams of each metal in all of it if it is this material, mean and sd.
struct Drawn {
  std::vector<double> up_to;  ///< cumulative probability
  std::vector<int> hypothesis;
  std::vector<Grams> mean_g, sd_g;
  Grams mean_of_all{}, sd_between{};
  double rows = 1.0;  ///< how many equal ones are worth as much
  double mass_g = 0.0;
  double mass_relative_u = 0.0;                            ///< standard uncertainty of the mass
  std::vector<std::pair<std::size_t, double>> pile_share;  ///< of what is drawn: pile and share

  [[nodiscard]] double probability(std::size_t k) const { return up_to[k] - (k > 0 ? up_to[k - 1] : 0.0); }
};

/// Groups of many rows each, every row on its own: near normal, with the departures of recipes kept apart.
struct Many {
  Grams mean_g{}, variance{};
  std::vector<Grams> sd_g;  ///< by hypothesis

  void add(const Drawn& d);
};

/// The same draws of all that is unknown in a jar, group by group. A latin hypercube (McKay, Beckman and Conover,
/// Technometrics 21 (1979) 239-245): of n draws each n-th part of a variable's distribution has one, and which draw has
/// which is shuffled for each variable by its number. The recipe of each material departs alike wherever it occurs.
class Simulation
{
 public:
  /// @param order  draws are 2 to this power
  explicit Simulation(int order);

  [[nodiscard]] std::size_t draws() const { return normal_.size(); }
  /// Adds what a group holds if all its rows are one material, times `share`, to the columns.
  void alike(const Drawn& d, double share, Columns& to);
  /// Each row of these few is a material of its own.
  void apart(const Drawn& d, Columns& to);
  /// All groups of many rows at once.
  void apart(const Many& many, Columns& to);
  /// Adds a normal variable of its own; never below nothing. Each column gets the same.
  void common(double sd, std::array<std::vector<double>*, 2> to);

 private:
  [[nodiscard]] std::uint64_t next_variable() { return ++variables_; }

  std::vector<double> normal_;           // in the middle of each part
  std::uint64_t variables_ = 1U << 20U;  // those before are the departures, by hypothesis
};

/// The band that the draws of a total leave; puts them in another order.
TotalBand band_of(std::vector<double>& draws, double level);

}  // namespace bilancetta
