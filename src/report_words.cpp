#include "report_words.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "displacement_errors.hpp"
#include "sentence.hpp"
#include "words.hpp"

namespace bilancetta
{

namespace
{

constexpr std::size_t width = 78;
constexpr double milligrams_below = 0.0095;  // g
constexpr double least_sum = 0.0005;         // of grams or money; less is shown as none

// Of an end below 100 that is rounded outwards: two would make 11 of 10.01.
int digits_of_end(double value)
{
  return value / std::pow(10.0, std::floor(std::log10(value))) < 2.0 ? 3 : 2;
}

}  // namespace

std::string wrapped(const std::string& text, std::size_t indent, const std::string& first)
{
  std::string out = first;
  std::size_t column = first.size();
  std::size_t from = 0;
  bool line_start = true;
  while (from < text.size()) {
    const std::size_t end = std::min(text.find(' ', from), text.size());
    const std::string word = text.substr(from, end - from);
    from = end + 1;
    if (!line_start && column + 1 + word.size() > width) {
      out += "\n" + std::string(indent, ' ');
      column = indent;
      line_start = true;
    }
    out += (line_start ? "" : " ") + word;
    column += word.size() + (line_start ? 0 : 1);
    line_start = false;
  }
  return out + "\n";
}

std::string percent(double p)
{
  return p > 0 && p < 0.005 ? "<1 %" : p < 1 && p > 0.995 ? ">99 %" : fmt::format("{:.0f} %", 100 * p);
}

std::string chance_words(double chance, double limit)
{
  const auto plain = [](double p) { return p <= 0.0 ? "<1 %" : p >= 1.0 ? ">99 %" : percent(p); };
  return chance < limit && plain(chance) == plain(limit) ? fmt::format("{:.1f} %", std::floor(1000 * chance) / 10)
                                                         : plain(chance);
}

std::string grams(double g)
{
  if (g < counts_as_none_g) {
    return "none";
  }
  return g < milligrams_below ? fmt::format("{:.1f} mg", 1000 * g)
         : g < 99.5           ? fmt::format("{:.2g} g", g)
         : g < 995            ? fmt::format("{:.0f} g", 10 * std::round(g / 10))
                              : fmt::format("{} kg", rounded(g / 1000));
}

std::string low_grams(double low)
{
  return low < least_shown_g      ? grams(0.0)
         : low < milligrams_below ? low_end(1000 * low, 1) + " mg"
         : low < 99.5             ? low_with_digits(low, digits_of_end(low)) + " g"
                                  : grams(std::stod(low_with_digits(low, 2)));
}

std::string high_grams(double high)
{
  return high < counts_as_none_g   ? grams(high)
         : high < milligrams_below ? high_end(1000 * high, 1) + " mg"
         : high < 99.5             ? high_with_digits(high, digits_of_end(high)) + " g"
                                   : grams(std::stod(high_with_digits(high, 2)));
}

std::array<std::string, 3> band_grams(const Band& band)
{
  bool one = band.low >= counts_as_none_g && grams(band.low) == grams(band.high);
  std::array<std::string, 3> text = {grams(band.median), low_grams(band.low), high_grams(band.high)};
  for (int digits = 3; digits <= 4 && one; ++digits) {
    const int decimals = std::max(0, digits - 1 - static_cast<int>(std::floor(std::log10(band.high))));
    text = {fmt::format("{:.{}f} g", band.median, decimals), low_end(band.low, decimals) + " g",
            high_end(band.high, decimals) + " g"};
    one = fixed(band.low, decimals) == fixed(band.high, decimals);
  }
  return text;
}

namespace
{

// What the formula on mean readings leaves out, of what moves the density by a twentieth of its standard uncertainty.
std::string not_allowed_for(const DensitySummary& density, const Weighing& weighing)
{
  constexpr double seen = 0.05;
  const Displacement d = displacement_of(weighing.readings);
  const DisplacementErrors e = displacement_errors_of(weighing, d, liquid_density_of(weighing.surroundings),
                                                      air_density_g_cm3(weighing.surroundings.air));
  const std::pair<const char*, double> causes[] = {
      {"bubbles", e.bubble_mean_g}, {"the thread", e.thread_shift_g}, {"evaporation", e.evaporation_shift_g}};
  std::string text;
  for (const auto& [cause, mean_g] : causes) {
    if (std::abs(mean_g) * density.value > seen * density.standard_uncertainty * d.displaced_g) {
      text += (text.empty() ? "" : " or ") + std::string(cause);
    }
  }
  return text.empty() ? "" : ", with no allowance for " + text;
}

}  // namespace

std::string density_words(const DensitySummary& d, const Weighing& weighing)
{
  const int n = decimals_supported_by(d.standard_uncertainty);
  if (!d.possible) {
    return "none between 0.5 and 23 g/cm3";
  }
  if (!d.bounded) {
    return fmt::format("above {} g/cm3", low_end(d.low, 1));
  }
  const std::string low = low_end(d.low, n);
  const std::string high = high_end(d.high, n);
  const std::string level = fmt::format("{:.4g} %", 100 * d.level);
  std::string line = fmt::format("{:.{}f} g/cm3, {} between {} and {}", d.value, n, level, low, high);
  // The curve of a rough density is lopsided: the interval says more than a plus-or-minus.
  if (is_rough(d)) {
    line = fmt::format("{} to {} g/cm3 ({}), as likely above as below {:.{}f}; lopsided, for {}", low, high, level,
                       d.value, n,
                       repeats_disagree(weighing) ? "its repeats lie far apart" : "the piece is small for this scale");
  }
  if (d.plain > 0 && std::abs(d.plain - d.value) > 0.1 * d.standard_uncertainty) {
    line += fmt::format(" (as weighed {:.{}f}{})", d.plain, n, not_allowed_for(d, weighing));
  }
  return line;
}

std::string expected_reading(const Candidate& c, int decimals)
{
  return c.kind == Kind::open_mix || c.kind == Kind::hollow ? ""
                                                            : fmt::format("{:.{}f}", c.expected_reading_g, decimals);
}

std::string composition_words(const Candidate& c)
{
  constexpr double slack = 0.01;  // of a digit: ends that are whole stay so, others are rounded outwards
  std::string text;
  for (const FractionBand& f : c.fractions) {
    if (f.best < 0.005 && f.high < 0.02) {
      continue;
    }
    const double step = f.high - f.low < 0.03 ? 0.1 : 1.0;
    const double low = step * std::floor(100 * f.low / step + slack);
    const double high = step * std::ceil(100 * f.high / step - slack);
    const std::string range = high - low < 0.05 ? fmt::format("{:.4g}", high) : fmt::format("{:.4g}-{:.4g}", low, high);
    text += fmt::format("{}{} {} %", text.empty() ? "" : ", ", f.constituent, low >= 99.0 ? "over 99" : range);
  }
  return text;
}

std::string caution_words(const CautionShown& c)
{
  const std::string why = c.probability >= 0 ? fmt::format("{} likely: {}", percent(c.probability), c.why) : c.why;
  return fmt::format("{} ({}): {} [{}]", c.key, why, c.text, c.source);
}

std::string caution_lines(const Verdict& v, Urgency urgency)
{
  std::string text;
  for (const CautionShown& c : v.cautions) {
    if (c.urgency == urgency) {
      text += wrapped(caution_words(c), 6, urgency == Urgency::stop ? "STOP  " : "Care  ");
    }
  }
  return text;
}

int digits_of_sum(double value, double off, int below_100)
{
  int digits = value < 99.5 ? below_100 : 3;
  const double order = std::floor(std::log10(std::max(value, least_sum)));
  while (digits > 1 && std::pow(10.0, order - digits + 1) < off) {
    --digits;
  }
  return digits;
}

std::string rounded(double value, double off)
{
  return value < least_sum ? "0" : with_digits(value, digits_of_sum(value, off));
}

std::string low_of_sum(double low, double off, double unit)
{
  return low < least_sum ? "0" : low_with_digits(low / unit, digits_of_sum(low, off, digits_of_end(low)));
}

std::string high_of_sum(double high, double off, double unit)
{
  return high < counts_as_none_g ? "0" : high_with_digits(high / unit, digits_of_sum(high, off, digits_of_end(high)));
}

std::string range_words(const Band& band, double low_off, double high_off, double unit)
{
  return fmt::format("{} to {}", low_of_sum(band.low, low_off, unit), high_of_sum(band.high, high_off, unit));
}

std::string price_words(const Prices& prices)
{
  std::string text;
  for (const auto& [metal, per_g] : prices.per_g) {
    text += fmt::format("{} {} {} a gram ({} a troy ounce)", text.empty() ? "at" : " and", metal, rounded(per_g),
                        rounded(per_g * grams_per_troy_ounce));
  }
  return text +
         (prices.pays < 1.0 ? fmt::format(", of which a buyer pays {} %", significant(100 * prices.pays, 3)) : "");
}

Band an_hour(const Prices& prices, const Band& worth)
{
  return {worth.median / prices.hours, worth.low / prices.hours, worth.high / prices.hours};
}

std::string hours_words(const Prices& prices, const Band& worth, double low_off, double high_off)
{
  return fmt::format("For {:g} {} of work that is {} an hour", prices.hours, prices.hours == 1.0 ? "hour" : "hours",
                     range_words(an_hour(prices, worth), low_off / prices.hours, high_off / prices.hours));
}

std::string hazards_text(const Tables& tables, const std::string& place)
{
  std::string text;
  for (const std::string& key : place_called(tables, place).hazards) {
    const Caution& caution = tables.cautions[find_caution(tables, key)];
    text +=
        wrapped(fmt::format("{} (old pieces may come with it; found: {}): {}", key, place, caution.text), 6, "Note  ");
  }
  return text.empty() ? "" : "\n" + text;
}

std::string note_lines(const Verdict& v)
{
  std::string text;
  std::string documents;
  for (const CautionShown& c : v.cautions) {
    if (c.urgency == Urgency::note) {
      const std::size_t end = std::min(c.text.find(". "), c.text.size());
      const std::string why = c.probability >= 0 ? fmt::format("{} likely", percent(c.probability)) : c.why;
      text += wrapped(fmt::format("{} ({}): {}", c.key, why, c.text.substr(0, end + 1)), 6, "Note  ");
      documents += documents.find(c.source) == std::string::npos ? (documents.empty() ? " [" : "; ") + c.source : "";
    }
  }
  documents += documents.empty() ? "." : "].";
  return text.empty() ? "" : text + wrapped("Your local rules come first" + documents, 6, "      ");
}

std::string kept_apart_words(const Verdict& v)
{
  std::string hazards;
  for (const CautionShown& c : v.cautions) {
    const bool on_its_pile = c.key == "cadmium" && v.pile == Pile::cadmium_suspect;
    if (c.urgency == Urgency::stop && c.probability >= PileThresholds{}.cadmium && !on_its_pile) {
      hazards += (hazards.empty() ? "" : " and ") + c.key;
    }
  }
  return hazards.empty() ? "" : "; keep it apart, for the " + hazards;
}

bool settles_claim(const Verdict& v)
{
  return v.claim && v.one_thing == settling_words(*v.claim);
}

std::string_view why_undecided(const Verdict& v)
{
  return v.pile != Pile::undecided     ? ""
         : v.background.hollow         ? " (hollow or filled ware)"
         : !v.conflicts.empty()        ? " (what was seen contradicts itself or the weight)"
         : !v.analysis.explained       ? " (nothing explains its density)"
         : !v.analysis.density.bounded ? " (too small for this scale)"
                                       : "";
}

}  // namespace bilancetta
