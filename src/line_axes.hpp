#pragma once

#include <array>

#include "bilancetta/hypothesis.hpp"

namespace bilancetta
{

/// Axes for the lines along which a hypothesis is drawn: the first runs the way in which the density rises most; the
/// second, across it, the way in which it falls most.
class LineAxes
{
 public:
  using Vector = std::array<double, max_variables>;
  explicit LineAxes(const Hypothesis& hypothesis);
  /// From a place on these axes to z, by two reflections.
  void turn(Vector& place) const;
  /// The first axis, length 1.
  [[nodiscard]] const Vector& way() const { return way_; }

 private:
  Vector way_{};
  Vector first_mirror_{}, second_mirror_{};
};

}  // namespace bilancetta
