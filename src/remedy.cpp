#include "bilancetta/remedy.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>
#include <vector>

#include "displacement_errors.hpp"

namespace bilancetta
{

namespace
{

// Readings of so many times the metal; repeats scatter as before.
void scale_readings(Readings& r, double factor)
{
  const auto scale = [&](std::vector<double>& list, double empty_g) {
    const double mean = std::accumulate(list.begin(), list.end(), 0.0) / static_cast<double>(list.size());
    for (double& value : list) {
      value += (factor - 1.0) * (mean - empty_g);
    }
  };
  scale(r.dry_g, 0.0);
  scale(r.rise_g, 0.0);
  scale(r.submerged_g, r.holder_g.value_or(0.0));
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

constexpr int most_pieces = 1000000;  // that a weighing may have

// Where the scale is too coarse for the piece, as many as warnings and the one thing to do tell of. Else at least ten,
// and not so many more that nobody has them: a jar holds tens of like pieces, not thousands.
int pooled_count(const Weighing& weighing)
{
  const DensitySummary density = summary_of(density_curve_of(weighing), weighing);
  const double steps = displacement_of(weighing.readings).displaced_g / liquid_scale_of(weighing).readability_g;
  const bool coarse = is_rough(density) || steps < steps_seen;
  const int needed = pieces_to_pool(density, weighing);
  return coarse && needed > weighing.count
             ? needed
             : std::clamp((weighing.count < 20 ? 2 : 3) * std::min(weighing.count, most_pieces), 10, most_pieces);
}

Weighing pooled(const Weighing& weighing, int count)
{
  Weighing more = weighing;
  more.count = count;
  scale_readings(more.readings, static_cast<double>(more.count) / weighing.count);
  return more;
}

// Both readings on the next scale that is finer than those at hand; empty if there is none.
std::optional<Weighing> finer(const Weighing& weighing)
{
  const double finest_g = std::min(weighing.scale.readability_g, liquid_scale_of(weighing).readability_g);
  const int decimals = std::max(decimals_shown(weighing.scale), decimals_shown(liquid_scale_of(weighing))) + 1;
  Weighing w = weighing;
  w.scale = scale_of(scale_class_of_decimals(std::max(decimals, 2)));
  w.liquid_scale.reset();
  return w.scale.readability_g < finest_g ? std::optional(w) : std::nullopt;
}

std::string finer_words(const Weighing& weighing, const Weighing& fine)
{
  return fmt::format("a scale that shows {} g{}", fine.scale.readability_g,
                     weighing.liquid_scale ? " for both readings" : "");
}

// Both readings on the better of the two scales, whose spans then cancel; empty if one scale served for both.
std::optional<Weighing> on_one_scale(const Weighing& weighing)
{
  if (!weighing.liquid_scale) {
    return {};
  }
  Weighing dry = weighing;
  dry.liquid_scale.reset();
  Weighing liquid = dry;
  liquid.scale = *weighing.liquid_scale;
  return combined_u(liquid) <= combined_u(dry) ? liquid : dry;
}

// Of scales alike either serves.
std::string one_scale_words(const Weighing& weighing, const Weighing& one)
{
  return weighing.scale == *weighing.liquid_scale
             ? "on one scale"
             : fmt::format("on the one scale that shows {} g", one.scale.readability_g);
}

constexpr std::size_t times = 5;

// More readings like those at hand.
void repeat_readings(std::vector<double>& list)
{
  const std::size_t own = list.size();
  for (std::size_t i = own; i < times; ++i) {
    list.push_back(list[i % own]);
  }
}

// Empty if the way has no repeats, or there are enough.
std::optional<Weighing> repeated(const Weighing& weighing)
{
  Weighing w = weighing;
  bool more = false;
  for (auto* list : {&w.readings.rise_g, &w.readings.submerged_g}) {
    if (!list->empty() && list->size() < times) {
      repeat_readings(*list);
      more = true;
    }
  }
  if (!more) {
    return {};
  }
  repeat_readings(w.readings.dry_g);
  return w;
}

// Other liquids may burn, and are not boiled; nor does soap belong in them.
Variant wetted(const Weighing& weighing)
{
  const bool water = !weighing.surroundings.liquid_density_g_cm3;
  Variant v{water ? "a drop of soap in water that was boiled and has cooled, the piece shaken free of bubbles"
                  : "the piece shaken free of bubbles",
            weighing};
  v.weighing.surroundings.wetting = water ? Wetting::boiled : Wetting::soaped;
  return v;
}

Variant measured_water(const Weighing& weighing)
{
  Variant v{"a thermometer in the water", weighing};
  v.weighing.surroundings.water_c_u = 0.5;
  return v;
}

// Every repeat the mean of them.
Weighing agreeing(const Weighing& weighing)
{
  Weighing w = weighing;
  for (auto* list : {&w.readings.dry_g, &w.readings.rise_g, &w.readings.submerged_g}) {
    const double sum = std::accumulate(list->begin(), list->end(), 0.0);
    std::fill(list->begin(), list->end(), sum / static_cast<double>(std::max<std::size_t>(list->size(), 1)));
  }
  return w;
}

}  // namespace

double explained_spread_g(const Scale& scale)
{
  return scale.readability_g + 5.0 * scale.repeatability_g;
}

bool repeats_disagree(const Weighing& w)
{
  const auto apart = [](const std::vector<double>& repeats, const Scale& scale) {
    const auto [lowest, highest] = std::minmax_element(repeats.begin(), repeats.end());
    return !repeats.empty() && *highest - *lowest > explained_spread_g(scale);
  };
  const Scale& in_liquid = liquid_scale_of(w);
  return apart(w.readings.dry_g, w.scale) || apart(w.readings.rise_g, in_liquid) ||
         apart(w.readings.submerged_g, in_liquid);
}

double relative_u(const Weighing& weighing)
{
  const LiquidDensity liquid = liquid_density_of(weighing.surroundings);
  const double air = air_density_g_cm3(weighing.surroundings.air);
  const Displacement d = corrected_displacement(weighing, liquid, air);
  return d.displaced_g > 0.0 ? combined_u(weighing) / density_from(d.dry_g, d.displaced_g, liquid.g_cm3, air) : 0.0;
}

double combined_u(const Weighing& weighing)
{
  double variance = 0.0;
  for (const BudgetLine& line : budget_of(weighing)) {
    variance += line.standard_uncertainty * line.standard_uncertainty;
  }
  return std::sqrt(variance);
}

int pieces_to_pool(const DensitySummary& density, const Weighing& weighing)
{
  constexpr double steps_wanted = 20.0;
  const double dry = displacement_of(weighing.readings).dry_g;
  const double liquid = liquid_density_of(weighing.surroundings).g_cm3;
  // Without a usable displacement, think of a metal of 9 g/cm3.
  const double per_piece = dry * liquid / (density.bounded ? density.value : 9.0) / weighing.count;
  const double dry_step_g = way_of(weighing.readings) == Way::rise ? 0.0 : weighing.scale.readability_g;
  const double step_g = std::max(liquid_scale_of(weighing).readability_g, dry_step_g);
  const double pieces = std::ceil(steps_wanted * step_g / std::max(per_piece, 1e-9));
  return static_cast<int>(std::clamp(pieces, 1.0, static_cast<double>(most_pieces)));
}

std::vector<SharperWeighing> sharper_weighings(const Weighing& weighing)
{
  std::vector<SharperWeighing> all;
  const int count = pooled_count(weighing);
  all.push_back({"pool", fmt::format("Weigh {} like pieces together (--count {}).", count, count), pooling_effort,
                 pooled(weighing, count)});
  if (const auto more = repeated(weighing)) {
    all.push_back({"repeats", "Weigh it five times, dry and in the liquid, and give every reading.", 2, *more});
  }
  if (const auto one = on_one_scale(weighing)) {
    all.push_back({"one-scale", fmt::format("Make both readings {}.", one_scale_words(weighing, *one)), 2, *one});
  }
  if (const auto fine = finer(weighing)) {
    all.push_back({"finer-scale", fmt::format("Weigh it on {}.", finer_words(weighing, *fine)), 4, *fine});
  }
  if (weighing.surroundings.wetting == Wetting::dunked) {
    Weighing shaken = weighing;
    shaken.surroundings.wetting = Wetting::soaped;
    const bool water = !weighing.surroundings.liquid_density_g_cm3;
    all.push_back({"wetting",
                   fmt::format("{} the bubbles off, weigh it again, and add --wetting soaped.",
                               water ? "Put a drop of soap in the water, shake" : "Shake"),
                   1, shaken});
  }
  return all;
}

Remedy best_remedy(const Weighing& weighing)
{
  const double now = combined_u(weighing);
  Remedy best{"", 0.8 * now};
  if (const double left = combined_u(agreeing(weighing));
      repeats_disagree(weighing) && left < best.standard_uncertainty) {
    return {"weighing it again until its repeats agree", left, true};
  }
  // In the order of what is easiest: a later one must leave clearly less.
  std::vector<Variant> variants = {wetted(weighing), measured_water(weighing)};
  if (const auto more = repeated(weighing)) {
    variants.push_back({"five repeats of each reading", *more});
  }
  if (const auto one = on_one_scale(weighing)) {
    variants.push_back({"both readings " + one_scale_words(weighing, *one), *one});
  }
  const int count = pooled_count(weighing);
  variants.push_back({fmt::format("weighing {} like pieces together", count), pooled(weighing, count)});
  if (const auto fine = finer(weighing)) {
    variants.push_back({finer_words(weighing, *fine), *fine});
  }
  for (const Variant& v : variants) {
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
