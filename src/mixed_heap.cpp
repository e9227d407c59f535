#include "bilancetta/mixed_heap.hpp"

#include <algorithm>

#include "bilancetta/density_grid.hpp"
#include "bilancetta/hypothesis.hpp"

namespace bilancetta
{

MixtureRange mixture_range_of(const Tables& tables)
{
  constexpr double far = 3.0;  // standard deviations
  MixtureRange range{density_grid::highest_g_cm3, density_grid::lowest_g_cm3};
  for (int m = 0; m < static_cast<int>(tables.materials.size()); ++m) {
    const Hypothesis h = solid_hypothesis(tables, m);
    double z[max_variables] = {};
    const auto take = [&] {
      const double density = h.evaluate(z).density;
      range.lightest = std::min(range.lightest, density * (1.0 - far * h.scatter));
      range.heaviest = std::max(range.heaviest, density * (1.0 + far * h.scatter));
    };
    take();
    for (int variable = 0; variable < h.variables; ++variable) {
      for (const double end : {-far, far}) {
        z[variable] = end;
        take();
      }
      z[variable] = 0.0;
    }
  }
  return range;
}

MixedHeap::MixedHeap(const Tables& tables, int constituent) : range_(mixture_range_of(tables))
{
  std::vector<Point> points;
  const double zero[max_variables] = {};
  for (int m = 0; m < static_cast<int>(tables.materials.size()); ++m) {
    const Hypothesis h = solid_hypothesis(tables, m);
    const Outcome<double> typical = h.evaluate(zero);
    points.push_back({1.0 / typical.density, holds(h, constituent) ? fraction_of(h, typical, constituent) : 0.0});
  }
  std::sort(points.begin(), points.end(), [](const Point& a, const Point& b) {
    return std::pair(a.volume, a.fraction) < std::pair(b.volume, b.fraction);
  });
  lower_ = lower_hull(points);
  for (Point& point : points) {
    point.fraction = -point.fraction;
  }
  std::sort(points.begin(), points.end(), [](const Point& a, const Point& b) {
    return std::pair(a.volume, a.fraction) < std::pair(b.volume, b.fraction);
  });
  upper_ = lower_hull(points);
}

// Andrew's monotone chain (Inf. Process. Lett. 9 (1979) 216-219), the lower half.
MixedHeap::Hull MixedHeap::lower_hull(const std::vector<Point>& sorted)
{
  Hull hull;
  for (const Point& point : sorted) {
    const auto turns_down = [&] {
      const Point& a = hull[hull.size() - 2];
      const Point& b = hull.back();
      return (b.volume - a.volume) * (point.fraction - a.fraction) <=
             (b.fraction - a.fraction) * (point.volume - a.volume);
    };
    while (hull.size() >= 2 && turns_down()) {
      hull.pop_back();
    }
    if (hull.empty() || point.volume > hull.back().volume) {
      hull.push_back(point);
    }
  }
  return hull;
}

double MixedHeap::least_between(const Hull& hull, double low, double high)
{
  double least = 2.0;
  for (std::size_t k = 0; k < hull.size(); ++k) {
    if (hull[k].volume >= low && hull[k].volume <= high) {
      least = std::min(least, hull[k].fraction);
    }
    for (const double at : {low, high}) {
      if (k > 0 && hull[k - 1].volume <= at && at <= hull[k].volume) {
        const double t = (at - hull[k - 1].volume) / (hull[k].volume - hull[k - 1].volume);
        least = std::min(least, hull[k - 1].fraction + t * (hull[k].fraction - hull[k - 1].fraction));
      }
    }
  }
  return least;
}

std::pair<double, double> MixedHeap::between(double density_low, double density_high) const
{
  if (density_low > range_.heaviest || density_high < range_.lightest) {
    return {0.0, 1.0};
  }
  const double low = std::clamp(1.0 / density_high, lower_.front().volume, lower_.back().volume);
  const double high = std::clamp(1.0 / density_low, lower_.front().volume, lower_.back().volume);
  return {std::max(0.0, least_between(lower_, low, high)), std::min(1.0, -least_between(upper_, low, high))};
}

}  // namespace bilancetta
