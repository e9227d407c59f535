#pragma once

#include <array>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "bilancetta/tables.hpp"

namespace bilancetta
{

/// A quantity as a function of one standard normal variable: a two-piece normal, median at `centre`,
/// with its own scale below and above, so that low, typical and high of a Range are kept exactly at
/// 2.5 %, 50 % and 97.5 %. Without a variable it is a constant.
struct Spread {
  double centre = 0.0, below = 0.0, above = 0.0;
  int variable = -1;

  template <typename T>
  [[nodiscard]] T at(const T* z) const
  {
    using std::abs;
    if (variable < 0) {
      return T(centre);
    }
    const T& value = z[variable];
    return T(centre) + value * (0.5 * (above + below)) + abs(value) * (0.5 * (above - below));
  }
};

/// A material ready to be evaluated: logarithms of mass fractions, of which the balance constituent takes up the rest,
/// and pores by a logit. The open mix has no balance: its logarithms are of ratios (Aitchison's logistic-normal).
struct Recipe {
  Recipe() = default;
  /// Takes the next free variables from `first_variable` on.
  Recipe(const Material& material, const std::vector<Constituent>& constituents, int first_variable);

  int size = 0;
  int variables = 0;                              ///< first free variable after this recipe
  std::array<int, max_components> constituent{};  ///< indices into Tables::constituents
  std::array<double, max_components> volume{};    ///< specific volumes, cm3/g
  std::array<Spread, max_components> log_fraction{};
  std::array<double, max_components> fixed{};  ///< exp(log_fraction) where it has no variable
  int balance = -1;
  double bend = 0.0;  ///< how far below its typical fraction the balance bends away from 0
  Spread pores;       ///< logit; only if porous
  bool porous = false;
  double factor = 1.0;  ///< 1 + departure
  Spread log_factor;    ///< its logarithm, if it has a variable

  /// Mass fractions into `fraction`; returns the density, g/cm3:
  /// (1 - pores) (1 + departure) / sum of w_i / rho_i.
  template <typename T>
  T evaluate(const T* z, std::array<T, max_components>& fraction) const
  {
    using std::exp;
    using std::sqrt;
    T total(0.0);
    T total_volume(0.0);
    for (int i = 0; i < size; ++i) {
      if (i == balance) {
        continue;
      }
      fraction[i] = log_fraction[i].variable < 0 ? T(fixed[i]) : exp(log_fraction[i].at(z));
      total += fraction[i];
      total_volume += fraction[i] * volume[i];
    }
    if (balance >= 0) {
      // What is left, but never below 0; where hardly anything is left the others give way together.
      const T rest = T(1.0 - bend) - total;
      fraction[balance] = T(0.5) * (rest + sqrt(rest * rest + T(4.0 * bend * fixed[balance])));
      total += fraction[balance];
      total_volume += fraction[balance] * volume[balance];
    }
    const T whole = T(1.0) / total;
    for (int i = 0; i < size; ++i) {
      fraction[i] *= whole;
    }
    T density = (log_factor.variable < 0 ? T(factor) : exp(log_factor.at(z))) * total / total_volume;
    if (porous) {
      density /= T(1.0) + exp(pores.at(z));
    }
    return density;
  }
};

/// What one vector z makes of a hypothesis.
template <typename T>
struct Outcome {
  T density;           ///< g/cm3
  T outer_mass_share;  ///< of coat or face in the whole; 1 for a piece of one substance
  T amount;            ///< coat thickness um; share of face, first part or void by volume; 0 else
  std::array<T, max_components> outer, inner;  ///< mass fractions within each part
};

/// Surface / volume^(2/3) of a piece of which nothing is known; judgement.
inline constexpr double usual_shape_factor = 8.0;

/// Size of one piece: coats need it, and faces whose thickness was read.
struct PieceSize {
  double volume_cm3 = 0.1;
  std::optional<double> area_cm2;
  std::optional<double> face_cm2{};          ///< end of a disc
  std::optional<double> layer_mm{};          ///< thickness of face or coat read at the edge
  double shape_factor = usual_shape_factor;  ///< of pieces from its place, if the area is not known
  std::optional<double> mass_g{};            ///< a coarse scale knows it far better than the volume
};

enum class Kind { solid, plated, inlay, hollow, joined, open_mix };

/// A build with its materials, as a function of z ~ N(0, I). `outer` is the only substance, the coat, the face or the
/// first of two parts joined; `inner` the core, carrier or second part.
struct Hypothesis {
  Kind kind = Kind::solid;
  Build build = Build::solid;
  int outer_material = -1, inner_material = -1;
  int build_row = -1;       ///< index into Tables::builds
  bool both_faces = false;  ///< an inlay's carrier is faced on both sides
  Recipe outer, inner;
  Spread amount;  ///< ln(um) for a coat, logit of a share or void otherwise
  Spread shape;   ///< ln(area / volume in 1/cm) for a coat
  int variables = 0;
  double scatter = 0.002;     ///< relative standard deviation of density about this
  double layer_chance = 1.0;  ///< of the thickness read at the edge, 1/mm, taken into `amount`; 1 if none was

  template <typename T>
  [[nodiscard]] Outcome<T> evaluate(const T* z) const
  {
    using std::exp;
    Outcome<T> o;
    o.outer_mass_share = T(1.0);
    o.amount = T(0.0);
    o.density = outer.evaluate(z, o.outer);
    if (kind == Kind::solid || kind == Kind::open_mix) {
      return o;
    }
    if (kind == Kind::hollow) {
      const T odds = exp(amount.at(z));
      o.amount = odds / (T(1.0) + odds);
      o.density /= T(1.0) + odds;
      return o;
    }
    const T inner_density = inner.evaluate(z, o.inner);
    T share(0.0);  // of the outer part, by volume
    if (kind == Kind::plated) {
      o.amount = exp(amount.at(z));
      share = T(1.0) - exp(-T(1e-4) * o.amount * exp(shape.at(z)));
    } else {
      const T odds = exp(amount.at(z));
      o.amount = share = odds / (T(1.0) + odds);
    }
    const T outer_mass = share * o.density;
    o.density = outer_mass + (T(1.0) - share) * inner_density;
    o.outer_mass_share = outer_mass / o.density;
    return o;
  }
};

Hypothesis solid_hypothesis(const Tables& tables, int material);
/// Coats, faces and joined parts. A coat depends on the piece's size; a face does if its thickness was read.
Hypothesis layered_hypothesis(const Tables& tables, int build_row, int outer, int inner, const PieceSize& size);
Hypothesis hollow_hypothesis(const Tables& tables, int build_row, int material);
Hypothesis open_mix_hypothesis(const Tables& tables);

/// Mass fraction of a constituent in the whole piece.
template <typename T>
T fraction_of(const Hypothesis& hypothesis, const Outcome<T>& outcome, int constituent)
{
  T total(0.0);
  for (int i = 0; i < hypothesis.outer.size; ++i) {
    if (hypothesis.outer.constituent[i] == constituent) {
      total += outcome.outer_mass_share * outcome.outer[i];
    }
  }
  for (int i = 0; i < hypothesis.inner.size; ++i) {
    if (hypothesis.inner.constituent[i] == constituent) {
      total += (T(1.0) - outcome.outer_mass_share) * outcome.inner[i];
    }
  }
  return total;
}
/// Whether either part lists this constituent at all.
bool holds(const Hypothesis& hypothesis, int constituent);

}  // namespace bilancetta
