#include <fmt/core.h>

#include <algorithm>

#include "bilancetta/mixed_verdict.hpp"
#include "bilancetta/report.hpp"
#include "normal_bank.hpp"
#include "report_words.hpp"
#include "sentence.hpp"
#include "words.hpp"

namespace bilancetta
{

namespace
{

std::string candidate_lines(const Candidate& c, int decimals)
{
  const std::string expected = expected_reading(c, decimals);
  return wrapped(c.words, 9, fmt::format("  {:>5}  ", percent(c.probability))) +
         wrapped(fmt::format("{}{}{}", composition_words(c), expected.empty() ? "" : "; would read " + expected + " g",
                             c.told_by.empty() ? "" : "; told by: " + c.told_by),
                 9, std::string(9, ' '));
}

std::string pores_words(const OpenPores& pores, double level)
{
  const double k = inverse_normal(0.5 + 0.5 * level);
  const int decimals = std::min(decimals_supported_by(100 * pores.share_u), 1);
  const double low = 100 * (pores.share - k * pores.share_u);
  const std::string high = high_end(100 * (pores.share + k * pores.share_u), decimals);
  return fmt::format(
      "{} % of the volume is open (as read {:.{}f} %); with that the piece has {:.{}f} g/cm3, and the density above is "
      "that of the solid between the pores",
      low > 0.0 ? low_end(low, decimals) + " to " + high : "at most " + high, 100 * pores.share, decimals,
      pores.bulk_g_cm3, decimals_supported_by(pores.bulk_u_g_cm3));
}

std::string precious_lines(const Verdict& v)
{
  constexpr double hardly_any = 0.02;  // of what it may be at most: a middle there tells nothing
  std::string text;
  for (std::size_t m = 0; m < precious_metals.size(); ++m) {
    const auto found = v.precious_g.find(precious_metals[m]);
    if (found == v.precious_g.end() || (found->second.high < least_shown_g && m > 0)) {
      continue;
    }
    const auto& [metal, band] = *found;
    const std::string name = capitalised(precious_metal_names[m]);
    if (band.high < least_shown_g) {
      text += fmt::format("{:<10}none to speak of\n", name);
    } else if (band.median < counts_as_none_g ||
               (band.low < counts_as_none_g && band.median < hardly_any * band.high)) {
      text += fmt::format("{:<10}{}, at most {}\n", name, band.high > 0.2 * v.mass_g ? "perhaps none" : "probably none",
                          high_grams(band.high));
    } else if (band.low < hardly_any * band.high) {
      const double none = v.holds_none.at(metal);
      const auto [middle, low, high] = band_grams({band.median, band.median, band.high});
      const bool within = std::stod(fmt::format("{:.2g}", band.median)) <= band.high;
      text += fmt::format("{:<10}about {}, at most {}, but perhaps {}\n", name, within ? grams(band.median) : middle,
                          high, none < 0.025 ? "hardly any" : fmt::format("none ({})", percent(none)));
    } else {
      const auto [middle, low, high] = band_grams(band);
      text += fmt::format("{:<10}about {}, between {} and {}\n", name, middle, low, high);
    }
  }
  if (v.worth) {
    text += wrapped(fmt::format("Worth     about {}, between {} and {}, {}", rounded(v.worth->median),
                                low_of_sum(v.worth->low), high_of_sum(v.worth->high), price_words(v.prices)) +
                        (v.prices.hours > 0.0 ? ". " + hours_words(v.prices, *v.worth) : ""),
                    10);
  }
  return text;
}

// The sentence, what must not be done, and the claim.
std::string opening_lines(const Verdict& v)
{
  const std::string doubted = v.conflicts.empty() ? v.sentence : "Not everything fits (see \"But\"). " + v.sentence;
  std::string text = wrapped(v.reference ? v.reference->words + "." : v.claim ? v.claim->because : doubted);
  text += v.reference && v.claim ? wrapped(v.claim->because) : "";
  text += caution_lines(v, Urgency::stop);
  for (const std::string& conflict : v.conflicts) {
    text += wrapped("But: " + conflict + ".");
  }
  if (v.claim) {
    // Where that is the one thing to do it stands at the end.
    text += "\n" + wrapped("Density alone proves no claim." + (settles_claim(v) ? "" : " " + settling_words(*v.claim)));
    text += wrapped("Leaving the claim aside: " + v.sentence);
  }
  return text + "\n";
}

// The three largest contributions, and what would take off most.
std::string doubt_lines(const Verdict& v)
{
  if (v.budget.empty()) {
    return "";
  }
  std::string causes;
  for (std::size_t i = 0; i < std::min<std::size_t>(v.budget.size(), 3); ++i) {
    const BudgetLine& line = v.budget[i];
    causes += fmt::format("{}{} {} ({})", i == 0 ? "" : ", ", line.cause, significant(line.standard_uncertainty, 2),
                          percent(line.share));
  }
  std::string text = wrapped(causes + " g/cm3", 10, "Doubt     ");
  if (!v.remedy.words.empty()) {
    text += wrapped(
        fmt::format("{} {}: {} g/cm3 in all", v.remedy.words, v.remedy.comes_first ? "comes first" : "would help most",
                    significant(v.remedy.standard_uncertainty, 2)),
        10, "          ");
  }
  return text;
}

std::string mass_line(const Piece& piece, const Verdict& v)
{
  const auto shown = [&](double grams) {
    return fmt::format("{:.{}f} g", grams, decimals_shown(piece.weighing.scale));
  };
  const int count = piece.weighing.count;
  const std::string mass = shown(v.mass_g);
  const std::string read = shown(displacement_of(piece.weighing.readings).dry_g);
  return wrapped(
      fmt::format("Mass      {}{}{}", mass,
                  count > 1 ? fmt::format(" for {} pieces, {} g each", count, significant(v.mass_g / count, 3)) : "",
                  mass == read ? "" : fmt::format(" (read as {}; the air's lift is allowed for)", read)),
      10);
}

std::string measured_lines(const Piece& piece, const Verdict& v)
{
  std::string text =
      wrapped("Density   " + density_words(v.analysis.density, piece.weighing), 10) + mass_line(piece, v);
  if (!v.analysis.density.possible) {
    return text;
  }
  text += doubt_lines(v);
  if (v.open_pores) {
    text += wrapped(pores_words(*v.open_pores, v.analysis.density.level), 10, "Pores     ");
  }
  if (v.background.hollow) {
    return text + "Silver    cannot be known from the weight of hollow or filled ware\n";
  }
  text += precious_lines(v);
  if (v.analysis.posterior.empty() || v.candidates.empty()) {
    return text;
  }
  std::string builds = "Made as   ";
  for (const Build build : all_builds) {
    builds += fmt::format("{}{} {}", build == Build::solid ? "" : ", ", name_of(build),
                          percent(v.analysis.builds[static_cast<int>(build)]));
  }
  return text + builds + "\n";
}

std::string warning_lines(const std::vector<std::string>& warnings)
{
  std::string text;
  for (const std::string& warning : warnings) {
    text += wrapped("Warning: " + warning);
  }
  return text;
}

std::string explaining_lines(const Piece& piece, const Verdict& v)
{
  const int decimals = decimals_shown(liquid_scale_of(piece.weighing));
  constexpr std::size_t shown = 6;
  std::string text;
  if (v.analysis.density.bounded && !v.candidates.empty() && !v.background.hollow) {
    text += fmt::format("\nWhat it may be (yours read {:.{}f} g)\n", reading_in_liquid_g(piece.weighing.readings),
                        decimals);
    for (std::size_t i = 0; i < std::min(v.candidates.size(), shown); ++i) {
      text += candidate_lines(v.candidates[i], decimals);
    }
  }
  if (!v.remains.empty() && !v.background.hollow) {
    text += "\nThe drop did nothing; what remains\n";
    for (const Remaining& r : v.remains) {
      text += wrapped(r.words + "; " +
                          (r.told_by.empty() ? "no test at the bench would change this much" : "told by: " + r.told_by),
                      9, fmt::format("  {:>5}  ", percent(r.probability)));
    }
  }
  if (!v.ruled_out.empty() && !v.background.hollow) {
    text += "\nRuled out\n";
    for (const RuledOut& r : v.ruled_out) {
      text += wrapped(r.why, 4, "  ");
    }
  }
  text += v.why.empty() && v.warnings.empty() ? "" : "\n";
  for (const std::string& reason : v.why) {
    text += wrapped(reason);
  }
  return text + warning_lines(v.warnings);
}

// A test by the name it is given with, a weighing in words.
std::string step_name(const NextTest& step)
{
  return step.key == "wetting"       ? "the bubbles shaken off"
         : step.key == "pool"        ? "more like pieces in one weighing"
         : step.key == "repeats"     ? "five readings, dry and in the liquid"
         : step.key == "one-scale"   ? "both readings on one scale"
         : step.key == "finer-scale" ? "a finer scale"
                                     : step.key;
}

// What else would help, after the one thing to do; where cadmium is plausible no file, whose care has no room here.
std::string also_lines(const Verdict& v)
{
  constexpr std::size_t shown = 3;
  constexpr double worth_naming = 0.05;
  if (may_be_sealed_mercury(v)) {
    return {};
  }
  std::string text;
  const bool pooling_is_said = v.one_thing.find("--count") != std::string::npos;
  for (std::size_t i = 1; i < std::min(v.next.size(), shown + 1) && v.next[i].bits >= worth_naming; ++i) {
    if ((v.next[i].key != "pool" || !pooling_is_said) && v.next[i].caution() != "cadmium") {
      text += fmt::format("{}{} ({})", text.empty() ? "" : ", ", step_name(v.next[i]), help_of(v.next[i]));
    }
  }
  return text.empty() ? "" : wrapped("Also worth doing, most for the effort first: " + text + ".");
}

// Of a piece that is known only the bench is asked.
std::string known_piece_lines(const Piece& piece, const Verdict& v)
{
  const std::string text = wrapped(v.reference->words + ".") + "\n" +
                           wrapped("Density   " + density_words(v.analysis.density, piece.weighing), 10) +
                           mass_line(piece, v) + doubt_lines(v);
  return text + warning_lines(v.warnings) +
         wrapped("What else such a piece may be is told without --reference-density.");
}

std::string assumed_lines(const ReportHeading& heading)
{
  std::string assumed;
  for (const std::string& one : heading.assumed) {
    assumed += (assumed.empty() ? "Assumed: " : "; ") + one;
  }
  return assumed.empty() ? "" : "\n" + wrapped(assumed + ".");
}

}  // namespace

std::string text_of_mixed(const Tables& tables, const Piece& piece, const Analysis& analysis,
                          const ReportHeading& heading)
{
  return (piece.name.empty() ? "" : piece.name + "\n") + wrapped(mixed_sentence(analysis)) + "\n" +
         wrapped("Density   " + density_words(analysis.density, piece.weighing), 10) + "\n" +
         warning_lines(mixed_warnings_of(analysis, piece)) + wrapped(std::string(unlike_pieces_cautions)) +
         hazards_text(tables, place_called(tables, piece.context.place).key) + assumed_lines(heading) + "\n" +
         wrapped("Next: " + mixed_next_step(analysis));
}

std::string text_report(const Tables& tables, const Piece& piece, const Verdict& v, const ReportHeading& heading)
{
  std::string text = piece.name.empty() ? "" : piece.name + "\n";
  if (v.reference && !v.claim) {
    return text + known_piece_lines(piece, v) + assumed_lines(heading);
  }
  text += opening_lines(v) + measured_lines(piece, v) + explaining_lines(piece, v);
  const std::string notes = note_lines(v);
  text += notes.empty() ? "" : "\n" + notes;
  text += assumed_lines(heading);
  text += wrapped(fmt::format("Pile: {}{}{}. Tables {}.", name_of(v.pile), why_undecided(v), kept_apart_words(v),
                              tables.checksum.substr(0, 8))) +
          "\n";
  return text + caution_lines(v, Urgency::care) + also_lines(v) +
         wrapped((settles_claim(v) ? "" : "Next: ") + v.one_thing);
}

}  // namespace bilancetta
