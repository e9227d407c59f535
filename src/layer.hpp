#pragma once

#include <functional>

#include "bilancetta/hypothesis.hpp"

namespace bilancetta
{

/// Narrows a spread by an observation whose chance, given the quantity, is known. The new one keeps median, 2.5
/// and 97.5 % points of what the observation leaves (by sums over the standard normal variable). Returns the chance of
/// the observation over the spread as it was; if that is 0, the spread stays.
double learn(Spread& spread, const std::function<double(double)>& chance);

/// Chance (1/mm) of reading this thickness at the edge of a layer that is truly this thick: a normal of 20 % of the
/// thickness, at least 0.1 mm (common practice, no source: a line seen with a lens against a rule or callipers); one in
/// a hundred is misread (judgement) and may be anything, 1/(1 + mm)^2.
double chance_of_layer_reading(double read_mm, double true_mm);

/// What the thickness of a coat read at the edge leaves of it; ln(um).
double learn_coat(Spread& ln_um, double read_mm);

/// Typical densities of a face and of what carries it, g/cm3.
struct FacedDensities {
  double face = 1.0, carrier = 1.0;
};

/// What the thickness of a face read at the edge leaves of its share by volume, share x volume = thickness x area of
/// the face; logit of the share. Without the size of a disc the area of the face is known by the shape factor only.
/// Where both sides are faced, two such layers make the share. If the mass of the piece is given, its volume is what
/// that mass takes with such a share.
double learn_face(Spread& logit_share, double read_mm, const PieceSize& size, bool both_faces,
                  const FacedDensities& densities = {});

}  // namespace bilancetta
