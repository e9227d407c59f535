#include "jar_report_words.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <numeric>

#include "report_words.hpp"

namespace bilancetta
{

std::string pieces(long n)
{
  return n == 1 ? "1 piece" : fmt::format("{} pieces", n);
}

std::string total_range(const TotalBand& total, double unit)
{
  return range_words(total, total.low_u, total.high_u, unit);
}

std::string middle_words(const TotalBand& total, const char* unit)
{
  const std::string median = rounded(total.median, total.median_u);
  std::string text = median == "0" ? "more likely than not none to speak of"
                                   : fmt::format("as likely more as less than {}{}", median, unit);
  // Then the median alone would mislead (judgement).
  const double least = std::min(total.mean, total.median);
  const double most = std::max(total.mean, total.median);
  const std::string mean = rounded(total.mean, total.median_u);
  if (mean != median && (most > 2.0 * least || most - least > total.high / 3.0)) {
    text += fmt::format(", and {}{} on average over all that it may be", mean, unit);
  }
  return text;
}

LeftOut left_out_of(const JarSummary& s)
{
  return {s.mixed_pieces + s.hollow + s.unfitting, s.mixed_g + s.hollow_g + s.unfitting_g};
}

bool tells_bargain(const JarSummary& s)
{
  constexpr double little = 0.05;  // judgement
  const auto add_unlike = [](double sum, const LotTotal& lot) { return sum + (lot.unlike ? lot.mass_g : 0.0); };
  const double doubtful_g =
      std::accumulate(s.lots.begin(), s.lots.end(), left_out_of(s).mass_g + s.unexplained_g, add_unlike);
  return s.worth && s.unpriced.empty() && doubtful_g <= little * (s.mass_g + s.mixed_g) &&
         static_cast<double>(s.unusable) <= little * static_cast<double>(s.rows);
}

namespace
{

// A caution is shown from a small probability on, so that its pieces may lie on any pile: where it says stop, which.
std::string why_of(const Caution& caution, const std::map<std::string, long>& by_pile, long counted)
{
  if (caution.urgency != Urgency::stop) {
    return pieces(counted);
  }
  std::string piles;
  for (const auto& [pile, count] : by_pile) {
    const std::string of_them = by_pile.size() > 1 ? fmt::format("{} ", count) : "";
    piles += fmt::format("{}{}on {}", piles.empty() ? "" : ", ", of_them, pile.empty() ? "no pile" : pile);
  }
  return fmt::format("{}{} {}", pieces(counted), by_pile.size() > 1 ? ":" : ",", piles);
}

}  // namespace

std::vector<JarCaution> cautions_in(const Tables& tables, const JarSummary& s)
{
  std::vector<JarCaution> all;
  for (const Urgency urgency : all_urgencies) {
    for (std::size_t k = 0; k < tables.cautions.size(); ++k) {
      const Caution& c = tables.cautions[k];
      const auto counted = s.cautions.find(static_cast<int>(k));
      const bool of_place = std::any_of(tables.places.begin(), tables.places.end(), [&](const Place& place) {
        return std::find(place.hazards.begin(), place.hazards.end(), c.key) != place.hazards.end();
      });
      if (counted != s.cautions.end() && c.urgency == urgency) {
        const auto add = [](long sum, const auto& pile) { return sum + pile.second; };
        const long total = std::accumulate(counted->second.begin(), counted->second.end(), 0L, add);
        all.push_back({&c, c.urgency, why_of(c, counted->second, total), total});
      } else if (counted == s.cautions.end() && (s.of_place >> k & 1U) != 0 &&
                 (of_place ? Urgency::note : c.urgency) == urgency) {
        all.push_back(
            {&c, urgency, of_place ? "old pieces from such places may come with it" : "a test drop was used", 0});
      }
    }
  }
  return all;
}

std::optional<JarStep> step_in(const Tables& tables, const JarSummary& s)
{
  const auto test =
      std::find_if(tables.tests.begin(), tables.tests.end(), [&](const BenchTest& one) { return one.key == s.next; });
  if (test == tables.tests.end()) {
    return std::nullopt;
  }
  const int cadmium = find_caution(tables, "cadmium");
  return JarStep{&*test, step_of(*test, s.next_reagent), cadmium >= 0 && (s.next_cautions >> cadmium & 1U) != 0};
}

}  // namespace bilancetta
