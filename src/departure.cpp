#include "bilancetta/departure.hpp"

#include <algorithm>

namespace bilancetta
{

namespace
{

bool contains(const std::vector<int>& list, int one)
{
  return std::find(list.begin(), list.end(), one) != list.end();
}

bool applies(const Departure& departure, const std::vector<Component>& composition)
{
  constexpr double rounding = 1e-9;
  constexpr double least = 0.01;  // a trace makes no system (judgement)
  double others = 0.0;
  std::size_t present = 0;
  for (const Component& component : composition) {
    const bool listed = contains(departure.constituents, component.constituent);
    present += listed && component.fraction.typical >= least ? 1 : 0;
    others += listed || contains(departure.solutes, component.constituent) ? 0.0 : component.fraction.typical;
  }
  return present == departure.constituents.size() && others <= departure.others + rounding &&
         solutes_of(departure, composition) <= departure.knots.back().first + rounding;
}

}  // namespace

double solutes_of(const Departure& departure, const std::vector<Component>& composition)
{
  double sum = 0.0;
  for (const Component& component : composition) {
    sum += contains(departure.solutes, component.constituent) ? component.fraction.typical : 0.0;
  }
  return sum;
}

double departure_at(const Departure& departure, double solutes)
{
  const auto& knots = departure.knots;
  for (std::size_t k = 1; k < knots.size(); ++k) {
    if (solutes <= knots[k].first) {
      const double part = (solutes - knots[k - 1].first) / (knots[k].first - knots[k - 1].first);
      return knots[k - 1].second + part * (knots[k].second - knots[k - 1].second);
    }
  }
  return knots.back().second;
}

const Departure* system_of(const std::vector<Departure>& departures, const std::vector<Component>& composition)
{
  const Departure* best = nullptr;
  for (const Departure& departure : departures) {
    if (applies(departure, composition) && (!best || departure.constituents.size() > best->constituents.size())) {
      best = &departure;
    }
  }
  return best;
}

double departure_of(const std::vector<Departure>& departures, const std::vector<Component>& composition)
{
  const Departure* system = system_of(departures, composition);
  return system ? departure_at(*system, solutes_of(*system, composition)) : 0.0;
}

}  // namespace bilancetta
