#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "sentence.hpp"
#include "words.hpp"

namespace bilancetta
{

namespace
{

// The likeliest layered candidate, if layered pieces count at all: of the explanation that the first sentence names.
const Candidate* layered_candidate(const Tables& tables, const Verdict& v)
{
  constexpr double counts_from = 0.1;
  const auto probability = [&](Build build) { return v.analysis.builds[static_cast<int>(build)]; };
  if (probability(Build::plated) + probability(Build::inlay) < counts_from) {
    return nullptr;
  }
  const auto layered = [](const Candidate& c) { return c.kind == Kind::plated || c.kind == Kind::inlay; };
  for (const Explanation& one : explanations_of(tables, v.analysis)) {
    const auto its = std::find_if(v.candidates.begin(), v.candidates.end(),
                                  [&](const Candidate& c) { return c.member == one.member && layered(c); });
    if (its != v.candidates.end()) {
      return &*its;
    }
  }
  const auto found = std::find_if(v.candidates.begin(), v.candidates.end(), layered);
  return found == v.candidates.end() ? nullptr : &*found;
}

// Two digits, or what a band of which one end is several times the other leaves to its middle: one, below 3 in halves.
double middle_of(const Band& band)
{
  constexpr double several = 3.0;
  if (!(band.median > 0.0) || band.high < several * band.low) {
    return band.median;
  }
  const double digit = std::pow(10.0, std::floor(std::log10(band.median)));
  const double step = band.median < 3.0 * digit ? 0.5 * digit : digit;
  return std::round(band.median / step) * step;
}

std::string layer_grams(double g)
{
  return g < 0.0095   ? significant(1000 * g, 2) + " mg"
         : g < 0.0995 ? fmt::format("{:.0f} mg", 1000 * g)
         : g < 9.95   ? significant(g, 2) + " g"
                      : fmt::format("{:.0f} g", g);
}

std::string grams_band(const Band& band, double factor = 1.0)
{
  const Band part{factor * band.median, factor * band.low, factor * band.high};
  return fmt::format("{} ({} to {})", layer_grams(middle_of(part)), layer_grams(part.low), layer_grams(part.high));
}

// "400 micrometres thick (200 to 990)", "1.2 mm thick (800 micrometres to 1.6 mm)".
std::string thickness_words(const Band& um)
{
  const auto unit = [](double length) { return length < 995.0 ? " micrometres" : " mm"; };
  const auto number = [](double length) { return significant(length < 995.0 ? length : length / 1000, 2); };
  const double middle = middle_of(um);
  const bool alike = unit(um.low) == unit(um.high) && unit(um.low) == unit(middle);
  const auto end = [&](double length) { return number(length) + (alike ? "" : unit(length)); };
  return fmt::format("{}{} thick ({} to {})", number(middle), unit(middle), end(um.low), end(um.high));
}

std::string coat_words(const Candidate& c)
{
  const auto silver = std::find_if(c.face_fractions.begin(), c.face_fractions.end(),
                                   [](const FractionBand& f) { return f.constituent == "Ag"; });
  const std::string holds = silver == c.face_fractions.end() || silver->best < 0.01 ? ""
                            : silver->best > 0.99
                                ? ", all of it silver"
                                : fmt::format(", of which {} is silver", grams_band(c.face_mass_g, silver->best));
  return fmt::format("If it is {} on {}, the coat is about {} and weighs {}{}.", c.material, c.over_name,
                     thickness_words(c.thickness_um), grams_band(c.face_mass_g), holds);
}

std::string inlay_words(const Candidate& c, double mass_g)
{
  return fmt::format("If it is {} on {}, {} {:.0f} % of the weight ({:.0f} to {:.0f} %): {} {} and the base {}.",
                     c.material, c.over_name, c.both_faces ? "the faces of both sides are" : "the face is",
                     100 * c.face_mass_g.median / mass_g, 100 * c.face_mass_g.low / mass_g,
                     100 * c.face_mass_g.high / mass_g, c.both_faces ? "they weigh" : "it weighs",
                     grams_band(c.face_mass_g), grams_band(c.base_mass_g));
}

// Whether the coat tells by the weight at all: the piece weighs, and typically would, as its bare core.
std::string coat_reason(const DensitySummary& read, const Candidate& c, double outer, double inner)
{
  constexpr double hardly = 0.01;
  const double mass = c.face_mass_g.median + c.base_mass_g.median;
  const double coated = mass / (c.face_mass_g.median / outer + c.base_mass_g.median / inner);
  const bool agrees = (inner >= read.low && inner <= read.high) || std::abs(read.value - inner) <= hardly * inner;
  const std::string own = density_text(read);
  if (agrees && std::abs(coated - inner) <= hardly * inner) {
    return fmt::format("So thin a coat hardly moves the density: the piece has {} g/cm3, {} has {:.4g}.", own,
                       c.over_name, inner);
  }
  return fmt::format("The piece has {} g/cm3; {} alone has {:.4g}, and with such a coat of {} ({:.4g}) it has {:.4g}.",
                     own, c.over_name, inner, c.material, outer, coated);
}

// Why such a piece weighs what it does.
std::string layers_reason(const Tables& tables, const Verdict& v, const Candidate& c)
{
  const double outer = typical_density_g_cm3(material_called(tables, c.key), tables.constituents);
  const double inner = typical_density_g_cm3(material_called(tables, c.over), tables.constituents);
  const double read = v.analysis.density.value;
  const std::string own = density_text(v.analysis.density);
  if (c.kind == Kind::plated) {
    return coat_reason(v.analysis.density, c, outer, inner);
  }
  const std::string both = fmt::format("{} ({:.4g}) and {} ({:.4g})", c.material, outer, c.over_name, inner);
  if (read > std::min(outer, inner) && read < std::max(outer, inner)) {
    return fmt::format("Its {} g/cm3 lies between {}.", own, both);
  }
  return fmt::format("Its {} g/cm3 is {} both {}; what their recipes and the weighing leave open allows it.", own,
                     read < outer ? "below" : "above", both);
}

// "weight in air and liquid (70 %), the tests you made (20 %), ..."
std::string rests_on(const Verdict& v)
{
  if (v.candidates.empty()) {
    return "";
  }
  std::vector<std::pair<double, const char*>> parts = {
      {v.leans_on_weight, "its weight in air and liquid"},
      {v.leans_on_tests, "the tests you made"},
      {v.leans_on_place, "where it was found and what is common there"},
      {v.leans_on_jar, "what else is in this jar"}};
  std::stable_sort(parts.begin(), parts.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  std::string text;
  for (const auto& [share, words] : parts) {
    if (share >= 0.005) {
      text += fmt::format("{}{} ({:.0f} %)", text.empty() ? "" : ", ", words, 100 * share);
    }
  }
  return text.empty() ? "" : fmt::format("Whether it is solid, plated or inlaid rests on {}.", text);
}

// What the likeliest candidate of another family would have read.
std::string runner_up_words(const Piece& piece, const Verdict& v)
{
  if (v.candidates.empty() || !v.analysis.density.bounded) {
    return {};
  }
  constexpr double worth_naming = 0.02;
  const Candidate& best = v.candidates.front();
  for (const Candidate& c : v.candidates) {
    // A hollow piece may read anything.
    const bool rival = c.kind != Kind::open_mix && c.kind != Kind::hollow && c.probability >= worth_naming &&
                       (c.group != best.group || c.build != best.build);
    if (rival) {
      const int decimals = decimals_shown(liquid_scale_of(piece.weighing));
      const std::string expected = fmt::format("{:.{}f}", c.expected_reading_g, decimals);
      const std::string read = fmt::format("{:.{}f}", reading_in_liquid_g(piece.weighing.readings), decimals);
      return fmt::format("A typical {} would have read {} g, yours read {} g{}.", c.words, expected, read,
                         expected == read ? ": the weight cannot choose between it and the first" : "");
    }
  }
  return {};
}

// A whole piece of what does not come from there: little more than its density speaks for it.
std::string stranger_words(const Tables& tables, const Piece& piece, const Verdict& v)
{
  constexpr double beyond_doubt = 0.9;
  const Place& place = place_called(tables, piece.context.place);
  const std::vector<Explanation> all = explanations_of(tables, v.analysis);
  if (all.empty() || all.front().probability >= beyond_doubt || place.key == "unknown" || piece.context.even_odds) {
    return {};
  }
  const Hypothesis& best = (*v.analysis.members)[all.front().member]->hypothesis;
  if (best.kind != Kind::solid) {
    return {};
  }
  const std::string& family = tables.materials[best.outer_material].group;
  const auto& coats = place.coats_only;
  const bool known = place.families.contains(family) && std::find(coats.begin(), coats.end(), family) == coats.end();
  return known ? ""
               : fmt::format(
                     "{} is not known from where it was found: think too of unlike metals joined, of a hollow "
                     "and of a slip in the readings.",
                     capitalised(all.front().words));
}

}  // namespace

std::vector<std::string> reasons_of(const Tables& tables, const Piece& piece, const Verdict& v)
{
  std::vector<std::string> why = {rests_on(v)};
  const Candidate* layered = layered_candidate(tables, v);
  if (layered && v.analysis.density.bounded) {
    why.push_back((layered->kind == Kind::plated ? coat_words(*layered) : inlay_words(*layered, v.mass_g)) + " " +
                  layers_reason(tables, v, *layered));
  }
  why.push_back(runner_up_words(piece, v));
  why.push_back(stranger_words(tables, piece, v));
  std::erase_if(why, [](const std::string& text) { return text.empty(); });
  return why;
}

}  // namespace bilancetta
