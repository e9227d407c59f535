#include "layer.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace bilancetta
{

namespace
{

constexpr double reading_part = 0.2;
constexpr double least_reading_u_mm = 0.1;
constexpr double misread_part = 0.01;  // judgement: a slip of the hand or the unit, which says nothing

double normal_density(double z)
{
  return std::exp(-0.5 * z * z);
}

// Area of the face, cm2, as low, typical, high (2.5, 50, 97.5 %; judgement): of a disc its end, of which bevels, wires
// and worn rims take or add a tenth; else the part of the surface between a cube's and a thin sheet's.
Range face_area_cm2(const PieceSize& size)
{
  if (size.face_cm2) {
    return {*size.face_cm2 / 1.2, *size.face_cm2, *size.face_cm2 * 1.2};
  }
  if (size.area_cm2) {
    return {*size.area_cm2 / 6.0, *size.area_cm2 / 3.0, *size.area_cm2 / 2.0};
  }
  const double square = std::cbrt(size.volume_cm3 * size.volume_cm3);
  return {square, 2.5 * square, 9.0 * square};
}

}  // namespace

double learn(Spread& spread, const std::function<double(double)>& chance)
{
  if (spread.variable < 0) {
    return chance(spread.centre);
  }
  constexpr double widest = 6.0;
  constexpr int nodes = 481;
  constexpr double step = 2.0 * widest / (nodes - 1);
  Spread alone = spread;
  alone.variable = 0;
  std::array<double, nodes> up_to{};  // mass below each node and half of its own
  double before = 0.0;
  double ordinary = 0.0;
  for (int i = 0; i < nodes; ++i) {
    const double z = -widest + i * step;
    const double mass = normal_density(z) * chance(alone.at(&z));
    ordinary += normal_density(z);
    up_to[i] = before + 0.5 * mass;
    before += mass;
  }
  if (!(before > 0.0)) {
    return 0.0;
  }
  const auto value_at = [&](double part) {
    const auto* const above = std::upper_bound(up_to.begin(), up_to.end(), part * before);
    const auto i = std::clamp<std::ptrdiff_t>(above - up_to.begin(), 1, nodes - 1);
    const double gap = up_to[i] - up_to[i - 1];
    const double along = gap > 0.0 ? std::clamp((part * before - up_to[i - 1]) / gap, 0.0, 1.0) : 0.5;
    const double z = -widest + (static_cast<double>(i - 1) + along) * step;
    return alone.at(&z);
  };
  spread.centre = value_at(0.5);
  spread.below = (spread.centre - value_at(0.025)) / two_sided_95;
  spread.above = (value_at(0.975) - spread.centre) / two_sided_95;
  return before / ordinary;
}

double chance_of_layer_reading(double read_mm, double true_mm)
{
  const double u = std::max(reading_part * true_mm, least_reading_u_mm);
  const double read = normal_density((read_mm - true_mm) / u) / (u * std::sqrt(2.0 * M_PI));
  return (1.0 - misread_part) * read + misread_part / ((1.0 + read_mm) * (1.0 + read_mm));
}

double learn_coat(Spread& ln_um, double read_mm)
{
  return learn(ln_um, [&](double ln) { return chance_of_layer_reading(read_mm, 1e-3 * std::exp(ln)); });
}

double learn_face(Spread& logit_share, double read_mm, const PieceSize& size, bool both_faces,
                  const FacedDensities& densities)
{
  const double faces = both_faces ? 2.0 : 1.0;
  // Areas in even steps of a standard normal, two-piece in the logarithm as every spread is.
  const Range area = face_area_cm2(size);
  const Spread ln_area{std::log(area.typical), std::log(area.typical / area.low) / two_sided_95,
                       std::log(area.high / area.typical) / two_sided_95, 0};
  std::vector<std::pair<double, double>> areas;  // cm2, weight
  double total = 0.0;
  for (int step = -14; step <= 14; ++step) {
    const double z = 0.25 * step;
    areas.emplace_back(std::exp(ln_area.at(&z)), normal_density(z));
    total += normal_density(z);
  }
  return learn(logit_share, [&](double logit) {
    const double share = 1.0 / (1.0 + std::exp(-logit));
    const double volume_cm3 =
        size.mass_g ? *size.mass_g / (share * densities.face + (1.0 - share) * densities.carrier) : size.volume_cm3;
    double chance = 0.0;
    for (const auto& [area_cm2, weight] : areas) {
      chance += weight * chance_of_layer_reading(read_mm, 10.0 * share * volume_cm3 / (area_cm2 * faces));
    }
    return chance / total;
  });
}

}  // namespace bilancetta
