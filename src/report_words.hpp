#pragma once

#include <array>
#include <string>
#include <string_view>

#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// Breaks text at blanks before column 79; following lines stand in by `indent`; ends with a line end.
std::string wrapped(const std::string& text, std::size_t indent = 0, const std::string& first = "");
/// "64 %", "<1 %", ">99 %".
std::string percent(double probability);
/// The same of a chance that no number of pieces makes certain: never "0 %" or "100 %", and never read as a limit that
/// it falls short of (79.97 % of 80 % is "79.9 %").
std::string chance_words(double chance, double limit = 0.0);
/// What people call each of precious_metals.
inline constexpr std::array<const char*, precious_metals.size()> precious_metal_names = {"silver", "gold", "palladium",
                                                                                         "platinum"};
/// Less metal than this counts as none, g.
inline constexpr double counts_as_none_g = 5e-5;
/// A low end, or a whole band by its high end, is shown as none below this, g.
inline constexpr double least_shown_g = 1e-4;
/// "3.2 mg", "1.4 g", "2 kg", "none".
std::string grams(double g);
/// Digits of a sum of grams or money: three from a hundred on, else two; fewer, but one, if the last stood for less
/// than what the sum may be off.
/// @param below_100  digits of values below 99.5, others having three
int digits_of_sum(double value, double off = 0.0, int below_100 = 2);
std::string rounded(double value, double off = 0.0);
/// The ends of its band, outwards. @param unit  grams to one of what is told, which has as many digits
std::string low_of_sum(double low, double off = 0.0, double unit = 1.0);
std::string high_of_sum(double high, double off = 0.0, double unit = 1.0);
/// "9510 to 10700".
std::string range_words(const Band& band, double low_off = 0.0, double high_off = 0.0, double unit = 1.0);
/// "at Ag 0.9 a gram (28 a troy ounce), of which a buyer pays 80 %".
std::string price_words(const Prices& prices);
/// Of a worth, that of one of the hours that were said.
Band an_hour(const Prices& prices, const Band& worth);
std::string hours_words(const Prices& prices, const Band& worth, double low_off = 0.0, double high_off = 0.0);
/// "10.31 g/cm3, 95 % between 10.27 and 10.35", or what can be said instead.
std::string density_words(const DensitySummary& density, const Weighing& weighing);
/// "Ag 92-94 %, Cu 6-8 %".
std::string composition_words(const Candidate& candidate);
/// "0.61": what its typical density would have read; empty for the open mix and for hollow pieces, which
/// may have any.
std::string expected_reading(const Candidate& candidate, int decimals);
/// What, why, what not to do, and the document.
std::string caution_words(const CautionShown& caution);
/// All cautions of urgency stop or care, each with the document that it rests on.
std::string caution_lines(const Verdict& verdict, Urgency urgency);
/// What may come with pieces from that place, before any of them is put into water; a blank line first, if anything.
std::string hazards_text(const Tables& tables, const std::string& place);
/// All of urgency note, in a sentence each, the documents once at the end.
std::string note_lines(const Verdict& verdict);

/// The ends of a band as grams() has them, outwards.
std::string low_grams(double low);
std::string high_grams(double high);
/// Median, low and high end of a band in grams, with more digits where two would make both ends one.
std::array<std::string, 3> band_grams(const Band& band);
/// What to keep a piece of any pile apart for: "; keep it apart, for the beryllium", or nothing.
std::string kept_apart_words(const Verdict& verdict);
/// Whether the one thing to do is what would settle the claim.
bool settles_claim(const Verdict& verdict);
/// Why a verdict has no pile, where its probabilities do not tell: " (hollow or filled ware)", or nothing.
std::string_view why_undecided(const Verdict& verdict);
/// What is said of unlike pieces weighed together.
inline constexpr std::string_view unlike_pieces_cautions =
    "Any of them may hold cadmium, beryllium or lead: do not heat, grind or file any of them.";

}  // namespace bilancetta
