#include "sentence.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "hypothesis_words.hpp"
#include "words.hpp"

namespace bilancetta
{

namespace
{

std::string opening(const Verdict& v, const std::vector<Explanation>& all)
{
  const DensitySummary& d = v.analysis.density;
  const bool explained = v.analysis.explained && !all.empty();
  if (std::string none = no_metal_words(v.analysis); !none.empty()) {
    return none;
  }
  if (!d.bounded) {
    return fmt::format(
        "Too small for this scale to name: all it says is heavier than {} g/cm3, which fits {} among much else.",
        low_end(d.low, 1), all.empty() ? "many metals" : all.front().words);
  }
  if (v.background.hollow) {
    return fmt::format(
        "Hollow or filled ware cannot be judged by its weight: the whole piece has {} g/cm3, and that says little "
        "about its metal.",
        density_text(d));
  }
  if (!explained) {
    return fmt::format(
        "Nothing in the tables explains a density of {} g/cm3: think of a hollow or a clinging bubble, unlike "
        "pieces weighed together, a wrong tare, or a material that is not in the tables.",
        density_text(d));
  }
  const Explanation& best = all.front();
  const auto also = [&](std::size_t from, const char* link) {
    std::string text;
    for (std::size_t k = from; k < std::min<std::size_t>(all.size(), from + 2) && all[k].probability >= 0.02; ++k) {
      text += fmt::format("{}{} ({})", text.empty() ? "" : link, all[k].words, percent_words(all[k].probability));
    }
    return text;
  };
  if (best.probability >= 0.45) {
    const std::string rest = also(1, " or ");
    return fmt::format("{}, {} ({}){}.", capitalised(best.words), sureness(best.probability),
                       percent_words(best.probability), rest.empty() ? "" : fmt::format("; it could also be {}", rest));
  }
  if (best.probability < 0.2) {
    const int n = decimals_supported_by(d.standard_uncertainty);
    return fmt::format("Many metals lie between {} and {} g/cm3; the likeliest are {} ({}), {}.", low_end(d.low, n),
                       high_end(d.high, n), best.words, percent_words(best.probability), also(1, " and "));
  }
  return fmt::format("Not settled: {} ({}) leads; {} follow.", best.words, percent_words(best.probability),
                     also(1, " and "));
}

}  // namespace

std::string no_metal_words(const Analysis& analysis)
{
  const DensitySummary& d = analysis.density;
  if (!no_metal_weighs_so(analysis)) {
    return "";
  }
  if (!d.possible) {
    return "No metal gives such readings: check the tare, and that the dry weight and the reading in water are each in "
           "their place.";
  }
  return fmt::format(
      "No metal is so heavy: these readings give {} g/cm3, and none has more than {} g/cm3. Check the tare, and that "
      "the dry weight and the reading in water are each in their place.",
      d.bounded ? density_text(d) : "more than " + low_end(d.low, 1), heaviest_metal_g_cm3);
}

std::string_view sureness(double probability)
{
  return probability >= 0.97   ? "almost certainly"
         : probability >= 0.85 ? "very likely"
         : probability >= 0.65 ? "fairly sure"
         : probability >= 0.5  ? "more likely than not"
                               : "the likeliest answer";
}

std::string density_text(const DensitySummary& density)
{
  return fmt::format("{:.{}f}", density.value, decimals_supported_by(density.standard_uncertainty));
}

std::string percent_words(double probability)
{
  return probability < 0.01   ? "under 1 %"
         : probability > 0.99 ? "over 99 %"
                              : fmt::format("{:.0f} %", 100 * probability);
}

std::vector<Explanation> explanations_of(const Tables& tables, const Analysis& analysis)
{
  std::map<std::string, Explanation> by_words;
  for (const int i : plausible_members(analysis)) {  // likeliest first
    const std::string words = family_words(tables, (*analysis.members)[i]->hypothesis);
    Explanation& one = by_words.try_emplace(words, Explanation{words, 0.0, i}).first->second;
    one.probability += analysis.posterior[i];
  }
  std::vector<Explanation> all;
  all.reserve(by_words.size());
  for (const auto& [words, one] : by_words) {
    all.push_back(one);
  }
  std::stable_sort(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.probability > b.probability; });
  return all;
}

void add_sentences(const Tables& tables, const Piece& piece, bool may_mark, Verdict& v)
{
  v.sentence = opening(v, explanations_of(tables, v.analysis));
  v.one_thing = one_thing_of(tables, piece, may_mark, v);
  if (!v.analysis.density.possible || v.background.hollow) {
    v.why.clear();
    return;
  }
  const std::vector<std::string> reasons = reasons_of(tables, piece, v);
  v.why.insert(v.why.begin(), reasons.begin(), reasons.end());
}

}  // namespace bilancetta
