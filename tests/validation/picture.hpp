#pragma once

// Small plain pictures (SVG): points measured, line modelled.

#include <string>
#include <utility>
#include <vector>

namespace validation
{

/// A short level line with a band of its own.
struct Bar {
  double from, to, low, middle, high;
};

struct Picture {
  std::string title, x_label, y_label;
  double x_low = 0.0, x_high = 1.0, y_low = 0.0, y_high = 1.0;
  std::vector<std::pair<double, double>> points;
  std::vector<std::pair<double, double>> line;
  std::vector<Bar> bars;
  double band = 0.0;                                    ///< half width about the line, in y
  std::vector<std::pair<double, std::string>> x_names;  ///< instead of numbers along x
};

std::string svg_of(const Picture& picture);

}  // namespace validation
