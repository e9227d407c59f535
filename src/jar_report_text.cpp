#include "bilancetta/jar_report.hpp"

#include <fmt/core.h>

#include "hypothesis_words.hpp"
#include "jar_report_words.hpp"
#include "report_words.hpp"
#include "sentence.hpp"

namespace bilancetta
{

namespace
{

std::string rows(long n)
{
  return n == 1 ? "1 row" : fmt::format("{} rows", n);
}

std::string counts_words(const JarSummary& s)
{
  const long counted = s.rows - s.unusable - s.mixed_rows - s.known_rows - s.repeat_rows;
  std::string text =
      s.pieces == 0
          ? fmt::format("The jar has no piece to count{}.", s.rows > 0 ? fmt::format(" in {}", rows(s.rows)) : "")
          : fmt::format("The jar has {} in {}{}, {} g.", pieces(s.pieces), rows(counted),
                        counted < s.rows ? fmt::format(" of {}", s.rows) : "", rounded(s.mass_g));
  text += s.unusable > 0 ? fmt::format(" {} more could not be used.", rows(s.unusable)) : "";
  text +=
      s.known_rows > 0 ? fmt::format(" Pieces of known density or mass are not counted ({}).", rows(s.known_rows)) : "";
  if (s.known_unfit_rows > 0) {
    text += fmt::format(
        " {} of them {} not read what is known: find out why (bubbles, a thread that touches, the tare, the water) "
        "before the rest is believed.",
        s.known_unfit_rows, s.known_unfit_rows == 1 ? "does" : "do");
  }
  text += s.repeat_rows > 0 ? fmt::format(" A piece weighed again counts once ({} more).", rows(s.repeat_rows)) : "";
  if (s.unfitting > 0) {
    text += fmt::format(" Nothing at all fits {} ({} g), and no metal of them is counted.", pieces(s.unfitting),
                        rounded(s.unfitting_g));
  }
  if (s.hollow > 0) {
    text += fmt::format(" Of {} that {} hollow or filled ({} g) no metal is counted: their weight does not tell it.",
                        pieces(s.hollow), s.hollow == 1 ? "is" : "are", rounded(s.hollow_g));
  }
  if (s.unexplained > 0) {
    text +=
        fmt::format(" Nothing in the tables explains {}: what is counted of them is a guess.", pieces(s.unexplained));
  }
  return text;
}

// Whether any piece's metal is counted.
bool counts_metal(const JarSummary& s)
{
  return s.pieces > s.unfitting + s.hollow;
}

// In brackets: troy ounces, if there is one, and the level of the band.
std::string beside_grams(const TotalBand& grams, const std::string& level)
{
  const std::string ounces =
      grams.high < grams_per_troy_ounce ? "" : fmt::format("{} troy ounces", total_range(grams, grams_per_troy_ounce));
  const std::string inside = ounces + (ounces.empty() || level.empty() ? "" : "; ") + level;
  return inside.empty() ? "" : fmt::format(" ({})", inside);
}

std::string metals_words(const JarSummary& s)
{
  std::string text;
  const bool has_kinds = s.kind_rows > 1;  // lots are one case each in both ranges
  const char* cases = s.lots.empty() ? "every row" : "every row outside the lots";
  if (!counts_metal(s)) {
    return text;
  }
  for (std::size_t m = 0; m < s.metals.size(); ++m) {
    const TotalBand& alike = s.metals[m].alike_g;
    const TotalBand& apart = s.metals[m].independent_g;
    if (m > 0 && alike.high < 0.001) {
      continue;
    }
    const std::string level = m == 0 ? fmt::format("{:.4g} %", 100 * s.level) : "";  // said once
    std::string sentence = fmt::format("It holds {} g of {}{}, {}.", total_range(alike), precious_metal_names[m],
                                       beside_grams(alike, level), middle_words(alike, " g"));
    sentence +=
        has_kinds ? fmt::format(" Were {} a case of its own, it would be {} g.", cases, total_range(apart)) : "";
    text += wrapped(sentence);
  }
  if (has_kinds && !s.metals.empty()) {
    text += wrapped(
        "The first range takes pieces that weigh alike as one kind, so that one mistake about them is a mistake about "
        "all: rely on that one. Name what belongs together in the column lot, and test one piece of each lot.");
  }
  if (s.sitting_u_g > 0) {
    text += wrapped(
        fmt::format("What all weighings of the sitting share makes {} g of its uncertainty.", rounded(s.sitting_u_g)));
  }
  return text;
}

std::string mixed_words(const JarSummary& s)
{
  if (s.mixed_rows == 0) {
    return "";
  }
  const Band silver = {0.0, s.mixed_bounds_g[0].first, s.mixed_bounds_g[0].second};
  return "\n" + wrapped(fmt::format(
                    "Unlike pieces weighed together, {} with {} g, are not in these totals. By their mean weight alone "
                    "they may hold from {} g of silver: different metals mixed can weigh what silver weighs. Sort "
                    "them and weigh like with like. {}",
                    pieces(s.mixed_pieces), rounded(s.mixed_g), range_words(silver), unlike_pieces_cautions));
}

// Metals that may be there and have no price: what the jar is worth cannot be said without them.
std::string not_counted(const JarSummary& s)
{
  std::string metals;
  std::string prices;
  for (const int m : s.unpriced) {
    metals += fmt::format("{}{} ({} g)", metals.empty() ? "" : " and ", precious_metal_names[m],
                          total_range(s.metals[m].alike_g));
    prices += fmt::format(" --price {}=P/g", precious_metals[m]);
  }
  return fmt::format(" That leaves out {}, for want of a price: add{} to learn what the jar is worth.", metals, prices);
}

// What the worth says nothing of, for its metal is in no total, and what of it is a guess.
std::string left_out_words(const JarSummary& s)
{
  const LeftOut out = left_out_of(s);
  std::string text = out.pieces > 0 ? fmt::format("{} of {} g", pieces(out.pieces), rounded(out.mass_g)) : "";
  if (s.unusable > 0) {
    text += fmt::format("{}{} that could not be used", text.empty() ? "" : " and ", rows(s.unusable));
  }
  if (!text.empty()) {
    const bool one = out.pieces + s.unusable == 1;
    text = fmt::format(" That is of the counted pieces alone: {} {} not in it.", text, one ? "is" : "are");
  }
  if (s.unexplained > 0) {
    text += fmt::format(" What is in it of {} of {} g is a guess.", pieces(s.unexplained), rounded(s.unexplained_g));
  }
  for (const LotTotal& lot : s.lots) {
    text += lot.unlike ? fmt::format(" Lot {}, of unlike pieces, is in it as one material.", lot.lot) : "";
  }
  return text;
}

std::string worth_words(const JarSummary& s)
{
  if (!s.worth || !counts_metal(s)) {
    return "";
  }
  std::string text = fmt::format("The metal would fetch {}, {}, {}.", total_range(*s.worth), middle_words(*s.worth, ""),
                                 price_words(s.prices));
  if (s.prices.hours > 0) {
    text += fmt::format(" {}, before what the jar itself cost you.",
                        hours_words(s.prices, *s.worth, s.worth->low_u, s.worth->high_u));
  }
  text += left_out_words(s) + (s.unpriced.empty() ? "" : not_counted(s));
  if (!tells_bargain(s)) {
    return "\n" +
           wrapped(text + (s.unpriced.empty() ? " So what the whole jar was worth buying for cannot be said." : ""));
  }
  const double price_off = s.worth->median > 0.0 ? s.worth->median_u * s.metal_price / s.worth->median : 0.0;
  text += fmt::format(
      " To buy the same metal outright would cost near {}: the jar is as likely a gain as a loss if its price, the "
      "refining and your time together come to {}, and a safe bargain only below {}.",
      rounded(s.metal_price, price_off), rounded(s.worth->median, s.worth->median_u),
      low_of_sum(s.worth->low, s.worth->low_u));
  return "\n" + wrapped(text);
}

std::string piles_words(const JarSummary& s)
{
  std::string text = s.piles.empty() ? "" : "\nPile                 pieces    mass, g   silver, g\n";
  for (const PileTotal& p : s.piles) {
    text += fmt::format("{:<18} {:>8}  {:>9}   {}\n", p.pile, p.pieces, rounded(p.mass_g), total_range(p.silver_g));
  }
  if (s.hollow > 0 && !s.piles.empty()) {
    text += wrapped(s.hollow == 1 ? "1 piece of hollow or filled ware, undecided in its row, stands in no pile: its "
                                    "weight does not tell its silver."
                                  : fmt::format("{} pieces of hollow or filled ware, undecided in their rows, stand "
                                                "in no pile: their weight does not tell their silver.",
                                                s.hollow));
  }
  return text;
}

std::string lots_words(const Tables& tables, const Members& members, const JarSummary& s)
{
  std::string text;
  for (const LotTotal& lot : s.lots) {
    text += wrapped(
        fmt::format("Lot {}: {}, {} g, {} g of silver; most likely {} ({:.0f} %).{}", lot.lot, pieces(lot.pieces),
                    rounded(lot.mass_g), total_range(lot.silver_g),
                    hypothesis_words(tables, members[lot.best]->hypothesis), 100 * lot.probability,
                    lot.partly_suspect ? " Some of it lies with the cadmium suspects: put the whole lot there." : ""));
    if (lot.unlike) {
      text += wrapped(
          fmt::format("Lot {}: its pieces do not weigh like one material ({:.2f} to {:.2f} g/cm3), but are reckoned "
                      "as one. That makes its range, and what it adds to the totals, too narrow, and may put it where "
                      "no piece is: do not rely on it, sort the lot and weigh again.",
                      lot.lot, lot.unlike->first, lot.unlike->second));
    }
  }
  return text.empty() ? "" : "\n" + text;
}

std::string cautions_words(const Tables& tables, const JarSummary& s)
{
  std::string text;
  for (const JarCaution& c : cautions_in(tables, s)) {
    const char* word = c.urgency == Urgency::stop ? "STOP" : c.urgency == Urgency::care ? "Care" : "Note";
    text += wrapped(fmt::format("{} {} ({}): {}", word, c.caution->key, c.why, c.caution->text));
  }
  return text.empty() ? "" : "\n" + text;
}

std::string next_words(const Tables& tables, const JarSummary& s)
{
  if (s.next.empty()) {
    return "";
  }
  const std::optional<JarStep> proposed = step_in(tables, s);
  const std::string step =
      proposed ? proposed->words : "weigh several like ones together, for they are small for this scale";
  std::vector<std::string> said;
  for (const JarCaution& shown : cautions_in(tables, s)) {
    said.push_back(shown.caution->key);
  }
  return "\n" +
         wrapped(fmt::format(
             "{} {} undecided. One thing would help most for its effort, with {}: {}{}{}", pieces(s.undecided),
             s.undecided == 1 ? "is" : "are", pieces(s.next_pieces), step,
             step.ends_with('.') || step.ends_with('?') ? "" : ".",
             proposed ? care_of_step(tables, *proposed->test, s.next_reagent, proposed->may_hold_cadmium, said) : ""));
}

}  // namespace

std::string jar_summary_text(const Tables& tables, const Members& members, const JarSummary& summary)
{
  const std::string metals = metals_words(summary);
  return wrapped(counts_words(summary)) + (metals.empty() ? "" : "\n" + metals) + mixed_words(summary) +
         worth_words(summary) + piles_words(summary) + lots_words(tables, members, summary) +
         cautions_words(tables, summary) + next_words(tables, summary);
}

}  // namespace bilancetta
