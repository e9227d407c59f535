#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "bilancetta/piece_text.hpp"
#include "piece_numbers.hpp"
#include "typed_scale.hpp"
#include "words.hpp"

namespace bilancetta
{

namespace
{

bool flag(const PieceText& text, Field field)
{
  const std::string word = lower_case(text[field]);
  if (word.empty() || word == "0" || word == "no" || word == "false" || word == "n") {
    return false;
  }
  if (word == "1" || word == "yes" || word == "true" || word == "y" || word == "x") {
    return true;
  }
  refuse_field(field, fmt::format("\"{}\" is neither of yes, y, true, 1, x nor of no, n, false, 0", text[field]));
}

template <typename Enum, std::size_t count>
Enum one_of(const PieceText& text, Field field, const std::array<Enum, count>& values)
{
  std::string list;
  const std::string word = lower_case(text[field]);
  for (const Enum value : values) {
    if (name_of(value) == word) {
      return value;
    }
    list += (list.empty() ? "" : ", ") + std::string(name_of(value));
  }
  refuse_field(field, fmt::format("\"{}\" is not one of {}", text[field], list));
}

void read_scale(const PieceText& text, int decimals, std::optional<int> decimals_in_liquid, PieceRead& read)
{
  const std::optional<double> step = maybe_number(text, Field::readability_g);
  Scale scale = scale_of_decimals(decimals);
  if (!text[Field::scale].empty()) {
    scale = scale_of(one_of(text, Field::scale, scale_classes));
  } else if (step && *step > 0.0) {
    scale = scale_of_step(*step);
    if (text[Field::repeatability_g].empty() && text[Field::linearity_g].empty()) {
      read.assumed.push_back(fmt::format("repeatability {} g and linearity {} g, as scales of that step have",
                                         significant(scale.repeatability_g, 3), significant(scale.linearity_g, 3)));
    }
  } else if (!step) {
    read.assumed.push_back(fmt::format(
        "a {} scale (step {} g, repeatability {} g, linearity {} g) from the decimals typed{}",
        name_of(scale_class_of_decimals(decimals)), scale.readability_g, scale.repeatability_g, scale.linearity_g,
        coarsest_decimals(text) < decimals ? " (not all numbers have as many: if one is of a coarser scale, name "
                                             "both with --scale and --liquid-scale)"
        : decimals < 2                     ? " (if it shows more, type its zeros too)"
                                           : ""));
  }
  scale.readability_g = step.value_or(scale.readability_g);
  scale.repeatability_g = maybe_number(text, Field::repeatability_g).value_or(scale.repeatability_g);
  scale.linearity_g = maybe_number(text, Field::linearity_g).value_or(scale.linearity_g);
  scale.drift_g = maybe_number(text, Field::drift_g).value_or(scale.drift_g);
  if (!text[Field::liquid_scale].empty()) {
    read.piece.weighing.liquid_scale = scale_of(one_of(text, Field::liquid_scale, scale_classes));
    read.piece.weighing.liquid_scale->drift_g = scale.drift_g;
  } else if (decimals_in_liquid && text[Field::scale].empty() && !step) {
    read.piece.weighing.liquid_scale = scale_of_decimals(*decimals_in_liquid);
    read.piece.weighing.liquid_scale->drift_g = scale.drift_g;
    read.assumed.push_back(fmt::format("another scale in the liquid, which shows {} g, from the decimals of its column",
                                       read.piece.weighing.liquid_scale->readability_g));
  }
  read.piece.weighing.span_u = maybe_number(text, Field::span_u).value_or(read.piece.weighing.span_u);
  read.piece.weighing.scale = scale;
}

void read_surroundings(const PieceText& text, PieceRead& read)
{
  Surroundings& s = read.piece.weighing.surroundings;
  const auto set = [&](Field field, double& value) { value = maybe_number(text, field).value_or(value); };
  set(Field::bottle_with_piece_c, s.water_c);  // the second filling is the water that the piece lies in
  set(Field::water_c, s.water_c);
  if (!text[Field::water_c].empty() || !text[Field::bottle_with_piece_c].empty()) {
    s.water_c_u = 1.0;  // read from some thermometer
  } else if (text[Field::liquid_density].empty()) {
    read.assumed.emplace_back("water at 20 +- 3 C");
  }
  set(Field::water_c_u, s.water_c_u);
  s.tap_water = flag(text, Field::tap_water);
  s.liquid_density_g_cm3 = maybe_number(text, Field::liquid_density);
  if (s.liquid_density_g_cm3 && (!text[Field::water_c].empty() || s.tap_water)) {
    refuse_field(Field::liquid_density,
                 "another liquid and the temperature or salts of water contradict each other; keep one");
  }
  if (!s.liquid_density_g_cm3 && !text[Field::liquid_density_u].empty()) {
    refuse_field(Field::liquid_density_u, "goes with a liquid density; give both");
  }
  if (s.liquid_density_g_cm3 && (!text[Field::bottle_c].empty() || !text[Field::bottle_with_piece_c].empty())) {
    refuse_field(Field::liquid_density,
                 "how another liquid expands is not known; fill the bottle twice at one temperature");
  }
  if (s.liquid_density_g_cm3 && text[Field::liquid_density_u].empty()) {
    read.assumed.push_back(
        fmt::format("the liquid's density known to {} g/cm3 (alcohol gains or loses as much in 4 degrees)",
                    s.liquid_density_u_g_cm3));
  }
  set(Field::liquid_density_u, s.liquid_density_u_g_cm3);
  set(Field::air_c, s.air.air_c);
  set(Field::air_hpa, s.air.air_hpa);
  set(Field::air_rh, s.air.air_rh);
  set(Field::thread_mm, s.thread_mm);
  set(Field::cup_mm, s.cup_mm);
  set(Field::evaporation_g, s.evaporation_g);
  s.air_free = flag(text, Field::air_free);
  s.tare_rounded = flag(text, Field::tare_rounded);
  s.thread_tared = !flag(text, Field::thread_not_tared);
  if (!text[Field::wetting].empty()) {
    s.wetting = one_of(text, Field::wetting, all_wettings);
  } else {
    read.assumed.emplace_back("dunked without soap");
  }
}

void read_size(const PieceText& text, const Place& place, Weighing& weighing)
{
  weighing.shape_factor = place.shape_factor.typical;
  const bool disc = !text[Field::diameter_mm].empty() || !text[Field::thickness_mm].empty();
  if (disc && (text[Field::diameter_mm].empty() || text[Field::thickness_mm].empty())) {
    refuse_field(Field::diameter_mm, "diameter and thickness of a disc go together; give both");
  }
  if (disc) {
    const double d = positive_number(text, Field::diameter_mm, 1000.0) / 10.0;
    const double t = positive_number(text, Field::thickness_mm, 1000.0) / 10.0;
    weighing.area_cm2 = M_PI * d * (0.5 * d + t);
    weighing.face_cm2 = M_PI * 0.25 * d * d;
    weighing.disc_cm3 = *weighing.face_cm2 * t;
  }
  if (!text[Field::area_cm2].empty()) {
    weighing.area_cm2 = positive_number(text, Field::area_cm2, 1e5);
  }
}

void read_context(const Tables& tables, const PieceText& text, PieceRead& read)
{
  Context& context = read.piece.context;
  const Place& place = place_called(tables, text[Field::found].empty() ? "unknown" : text[Field::found]);
  context.place = place.key;
  context.form = text[Field::form].empty() ? place.form : one_of(text, Field::form, all_forms);
  context.even_odds = flag(text, Field::even_odds);
  Answers& answers = context.answers;
  for (const std::string_view test : bench_test_keys) {
    if (const std::string& answer = text[*field_of_test(test)]; !answer.empty()) {
      add_answer(tables, answers, std::string(test), answer);
    }
  }
  const bool drop = std::any_of(answers.given.begin(), answers.given.end(),
                                [](const auto& g) { return g.first.find("reagent") != std::string::npos; });
  if (!text[Field::reagent].empty()) {
    answers.reagent = lower_case(text[Field::reagent]);
    if (answers.reagent != "chromate" && answers.reagent != "nitric" && answers.reagent != "other") {
      refuse_field(Field::reagent, fmt::format("\"{}\" is not one of chromate, nitric, other", text[Field::reagent]));
    }
  } else if (drop) {
    read.assumed.emplace_back("the chromate test drop");
  }
  answers.reagent_checked = flag(text, Field::reagent_checked);
  read.piece.claim = text[Field::claim];
  if (!read.piece.claim.empty()) {
    static_cast<void>(
        claim_called(tables, read.piece.claim));  // refuses an unknown claim before any weighing is judged
  }
  read_size(text, place, read.piece.weighing);
  if (!text[Field::layer_mm].empty()) {
    read.piece.layer_mm = positive_number(text, Field::layer_mm, 100.0);
    read.assumed.emplace_back("the layer's thickness read to 20 %, at least 0.1 mm");
  }
}

}  // namespace

PieceRead piece_from(const Tables& tables, const PieceText& text, int decimals, std::optional<int> decimals_in_liquid)
{
  PieceRead read;
  Weighing& w = read.piece.weighing;
  read.piece.name = text[Field::piece];
  w.readings.dry_g = numbers_in(text, Field::dry_g);
  w.readings.rise_g = numbers_in(text, Field::rise_g);
  w.readings.submerged_g = numbers_in(text, Field::submerged_g);
  w.readings.cup_before_g = maybe_number(text, Field::cup_before_g);
  w.readings.cup_after_g = maybe_number(text, Field::cup_after_g);
  w.readings.holder_g = maybe_number(text, Field::holder_g);
  w.readings.bottle_full_g = maybe_number(text, Field::bottle_full_g);
  w.readings.soaked_g = maybe_number(text, Field::soaked_g);
  w.readings.bottle_c = maybe_number(text, Field::bottle_c);
  w.readings.bottle_with_piece_c = maybe_number(text, Field::bottle_with_piece_c);
  if (w.readings.bottle_c.has_value() != w.readings.bottle_with_piece_c.has_value()) {
    refuse_field(Field::bottle_c, "the temperatures of the two fillings go together; give both");
  }
  read.piece.reference_density_g_cm3 = maybe_number(text, Field::reference_density);
  read.piece.reference_u_g_cm3 = maybe_number(text, Field::reference_density_u).value_or(read.piece.reference_u_g_cm3);
  if (read.piece.reference_density_g_cm3 &&
      !(*read.piece.reference_density_g_cm3 > 0.5 && *read.piece.reference_density_g_cm3 < 23.0)) {
    refuse_field(Field::reference_density,
                 fmt::format("{} is outside 0.5 to 23 g/cm3", *read.piece.reference_density_g_cm3));
  }
  if (!(read.piece.reference_u_g_cm3 >= 0.0 && read.piece.reference_u_g_cm3 <= 1.0)) {
    refuse_field(Field::reference_density_u, fmt::format("{} is outside 0 to 1 g/cm3", read.piece.reference_u_g_cm3));
  }
  if (!text[Field::reference_mass_g].empty()) {
    read.piece.reference_mass_g = positive_number(text, Field::reference_mass_g, 1e5);
  }
  read.piece.lot = text[Field::lot];
  w.readings.cup_resting_g = maybe_number(text, Field::cup_resting_g);
  w.readings.bottle_with_piece_g = maybe_number(text, Field::bottle_with_piece_g);
  if (!text[Field::count].empty()) {
    const double count = positive_number(text, Field::count, 1e6);
    w.count = static_cast<int>(count);
    if (w.count != count) {
      refuse_field(Field::count, fmt::format("\"{}\" is not a whole number", text[Field::count]));
    }
  }
  const std::size_t in_liquid = std::max(w.readings.rise_g.size(), w.readings.submerged_g.size());
  if (in_liquid > 0 && in_liquid != w.readings.dry_g.size() && std::max(in_liquid, w.readings.dry_g.size()) > 1) {
    read.assumed.push_back(
        fmt::format("{} dry readings and {} in the liquid, each set by itself", w.readings.dry_g.size(), in_liquid));
  }
  read.mixed = flag(text, Field::mixed);
  w.as_typed = flag(text, Field::as_typed);
  read_scale(text, decimals, decimals_in_liquid, read);
  check_repeats(text, w);
  read.piece.doubts = doubts_of_steps(text, w);
  read_surroundings(text, read);
  read_context(tables, text, read);
  return read;
}

}  // namespace bilancetta
