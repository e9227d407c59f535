#include "bilancetta/remedy.hpp"

#include <fmt/core.h>

#include <cmath>
#include <vector>

namespace bilancetta
{

namespace
{

void scale_readings(Readings& r, double factor)
{
  for (auto* list : {&r.dry_g, &r.rise_g, &r.submerged_g}) {
    for (double& value : *list) {
      value *= factor;
    }
  }
  if (r.cup_after_g) {
    r.cup_after_g = *r.cup_before_g + factor * (*r.cup_after_g - *r.cup_before_g);
  }
  if (r.bottle_with_piece_g) {
    r.bottle_with_piece_g = *r.bottle_full_g + factor * (*r.bottle_with_piece_g - *r.bottle_full_g);
  }
}

struct Variant {
  std::string words;
  Weighing weighing;
};

Variant pooled(const Weighing& weighing)
{
  constexpr int more = 10;
  Variant v{fmt::format("weighing {} like pieces together", more * weighing.count), weighing};
  v.weighing.count *= more;
  scale_readings(v.weighing.readings, more);
  return v;
}

Variant finer(const Weighing& weighing)
{
  Variant v{"", weighing};
  const int decimals = decimals_shown(weighing.scale) + 1;
  v.weighing.scale = scale_of(scale_class_of_decimals(std::max(decimals, 2)));
  v.weighing.liquid_scale.reset();
  v.words = fmt::format("a scale that shows {} g", v.weighing.scale.readability_g);
  return v;
}

Variant repeated(const Weighing& weighing)
{
  constexpr std::size_t times = 5;
  Variant v{"five repeats of each reading", weighing};
  for (auto* list : {&v.weighing.readings.dry_g, &v.weighing.readings.rise_g, &v.weighing.readings.submerged_g}) {
    if (!list->empty() && list->size() < times) {
      list->resize(times, list->front());
    }
  }
  return v;
}

Variant wetted(const Weighing& weighing)
{
  Variant v{"a drop of soap in boiled water, the piece shaken free of bubbles", weighing};
  v.weighing.surroundings.wetting = Wetting::boiled;
  return v;
}

Variant measured_water(const Weighing& weighing)
{
  Variant v{"a thermometer in the water", weighing};
  v.weighing.surroundings.water_c_u = 0.5;
  return v;
}

}  // namespace

double combined_u(const Weighing& weighing)
{
  double variance = 0.0;
  for (const BudgetLine& line : budget_of(weighing)) {
    variance += line.standard_uncertainty * line.standard_uncertainty;
  }
  return std::sqrt(variance);
}

Remedy best_remedy(const Weighing& weighing)
{
  const double now = combined_u(weighing);
  Remedy best{"", 0.8 * now};
  // In the order of what is easiest: a later one must leave clearly less.
  for (const Variant& v :
       {pooled(weighing), wetted(weighing), measured_water(weighing), repeated(weighing), finer(weighing)}) {
    const double left = combined_u(v.weighing);
    if (left < 0.8 * best.standard_uncertainty || (best.words.empty() && left < best.standard_uncertainty)) {
      best = {v.words, left};
    }
  }
  if (best.words.empty()) {
    best.standard_uncertainty = now;
  }
  return best;
}

}  // namespace bilancetta
