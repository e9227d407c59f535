#include "bilancetta/html_report.hpp"

#include <cstdlib>

#include "bilancetta/mixed_verdict.hpp"
#include "html_picture.hpp"
#include "report_words.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;
using Catch::WithinAbs;
using Catch::WithinRel;

namespace
{

const std::string rude = "<script>alert(\"1\")</script> & 'it'";

struct Page {
  Piece piece;
  Verdict verdict;
  std::string html;
};

Page page_of(Piece piece, const VerdictOptions& options = {})
{
  Page p;
  p.piece = std::move(piece);
  p.verdict = verdict_of(built_in_tables(), p.piece, options);
  p.html = html_report(built_in_tables(), p.piece, p.verdict, {"1.0", "", {"water at 20 +- 3 C", rude}});
  return p;
}

Piece button()
{
  Piece p;
  p.name = rude;
  p.weighing = rise_weighing(4.21, 0.42, scale_of(ScaleClass::pocket));
  p.context.place = "breaker";
  return p;
}

// What is wrong with the nesting of elements, by the rules of XML; "" if nothing.
std::string trouble_with_tags(const std::string& html)
{
  std::vector<std::string> open;
  for (std::size_t at = html.find('<'); at != std::string::npos; at = html.find('<', at + 1)) {
    const std::size_t end = html.find('>', at);
    if (end == std::string::npos || html.find('<', at + 1) < end) {
      return "a bracket stands open at " + html.substr(at, 40);
    }
    const std::string tag = html.substr(at + 1, end - at - 1);
    const std::string name = tag.substr(tag[0] == '/' ? 1 : 0, tag.find(' ') - (tag[0] == '/' ? 1 : 0));
    if (tag[0] == '!' || name == "meta" || tag.back() == '/') {
      continue;
    }
    if (tag[0] != '/') {
      open.push_back(name);
    } else if (open.empty() || open.back() != name) {
      return "unexpected end of " + name;
    } else {
      open.pop_back();
    }
  }
  return open.empty() ? "" : open.back() + " is never closed";
}

int count_of(const std::string& text, const std::string& part)
{
  int count = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) {
    ++count;
  }
  return count;
}

// The number that stands behind a text.
double number_behind(const std::string& text, const std::string& part, std::size_t from = 0)
{
  const std::size_t at = text.find(part, from);
  REQUIRE(at != std::string::npos);
  return std::strtod(text.c_str() + at + part.size(), nullptr);
}

}  // namespace

// U+FFFD stands for bytes that are no UTF-8 (The Unicode Standard 15.0, section 3.9; from memory).
TEST_CASE("text in a page is UTF-8 and opens nothing", "[html_report]")
{
  CHECK(escaped("caf\xC3\xA9 \xFF spoon\n") == "caf\xC3\xA9 \xEF\xBF\xBD spoon ");
  CHECK(escaped("<a href='x'>&\"") == "&lt;a href=&#39;x&#39;&gt;&amp;&quot;");
}

// A piece without bubbles has none that are left out.
TEST_CASE("the plain density names what it leaves out", "[html_report]")
{
  const auto words = [](double dry_g, double submerged_g, Wetting wetting, bool tared) {
    Weighing w = submerged_weighing(dry_g, submerged_g, scale_of(ScaleClass::laboratory));
    w.surroundings.wetting = wetting;
    w.surroundings.thread_tared = tared;
    return density_words(summary_of(density_curve_of(w), w), w);
  };
  CHECK(contains(words(0.5, 0.454, Wetting::sealed, false), ", with no allowance for the thread)"));
  CHECK(contains(words(0.5, 0.454, Wetting::dunked, true), ", with no allowance for bubbles)"));
  CHECK(contains(words(0.5, 0.454, Wetting::dunked, false), ", with no allowance for bubbles or the thread)"));
  CHECK_FALSE(contains(words(0.5, 0.454, Wetting::sealed, true), "allowance"));
}

TEST_CASE("a page is whole, asks for nothing from outside and runs nothing", "[html]")
{
  Piece hollow = button();
  hollow.context.form = Form::hollow;
  Piece claimed = button();
  claimed.claim = "sterling";
  Piece light = button();
  light.weighing = rise_weighing(0.05, 0.0, scale_of(ScaleClass::pocket));
  Piece known = button();
  known.reference_density_g_cm3 = 10.0;
  Piece bottle = button();
  bottle.weighing.readings.rise_g.clear();
  bottle.weighing.readings.bottle_full_g = 50.0;
  bottle.weighing.readings.bottle_with_piece_g = 53.79;
  for (const Piece& piece : {button(), hollow, claimed, light, known, bottle}) {
    const Page p = page_of(piece);
    CHECK(trouble_with_tags(p.html).empty());
    for (const char* outside : {"http", "src=", "href", "url(", "@import", "<script", "javascript", "onload"}) {
      CHECK_FALSE(contains(p.html, outside));
    }
    CHECK(contains(p.html, "&lt;script&gt;alert(&quot;1&quot;)&lt;/script&gt; &amp; &#39;it&#39;"));
    CHECK(contains(p.html, "prefers-color-scheme:dark"));
    CHECK(contains(p.html, "@media print"));
    CHECK_FALSE(contains(p.html, "nan"));
    CHECK_FALSE(contains(p.html, "inf "));
  }
}

TEST_CASE("an open mix, which has no typical density, is not said to read anything", "[html]")
{
  Candidate mix;
  mix.kind = Kind::open_mix;
  mix.expected_reading_g = 0.4151;
  CHECK(expected_reading(mix, 3).empty());
  mix.kind = Kind::solid;
  CHECK(expected_reading(mix, 2) == "0.42");
}

TEST_CASE("a page says what the verdict says, what must not be done first", "[html]")
{
  const Page p = page_of(button());
  const Verdict& v = p.verdict;
  REQUIRE(v.cautions.size() > 1);
  REQUIRE(v.cautions[0].urgency == Urgency::stop);
  const std::size_t stop = p.html.find(escaped(v.cautions[0].text));
  const std::size_t sentence = p.html.find(escaped(v.sentence));
  REQUIRE(stop != std::string::npos);
  REQUIRE(sentence != std::string::npos);
  CHECK(stop < sentence);
  CHECK(sentence < p.html.find(escaped("Next: " + v.one_thing)));
  for (const CautionShown& c : v.cautions) {
    CHECK(contains(p.html, escaped(c.text)));
  }
  for (std::size_t i = 0; i < 6; ++i) {
    CHECK(contains(p.html, "<td>" + escaped(v.candidates[i].material)));
  }
  for (const std::string& reason : v.why) {
    CHECK(contains(p.html, escaped(reason)));
  }
  CHECK(contains(p.html, "repeatability"));
  CHECK(count_of(p.html, "<svg ") == 4);
  CHECK(count_of(p.html, "class=\"mark\"") >= 3);
}

TEST_CASE("both ends of a narrow band are told apart, and none stays none", "[html]")
{
  using Texts = std::array<std::string, 3>;
  CHECK(band_grams({0.0, 0.0, 0.0}) == Texts{"none", "none", "none"});
  CHECK(band_grams({2.46, 2.45, 2.47}) == Texts{"2.46 g", "2.45 g", "2.47 g"});
  CHECK(band_grams({2.4, 2.2, 2.6}) == Texts{"2.4 g", "2.2 g", "2.6 g"});
  CHECK(band_grams({33.93, 33.92, 33.94}) == Texts{"33.93 g", "33.92 g", "33.94 g"});
  // Outwards: a band that is shown is never narrower than it is.
  CHECK(band_grams({5.33, 1.67, 5.71}) == Texts{"5.3 g", "1.67 g", "5.8 g"});
  CHECK(band_grams({9.9, 8.9, 10.003}) == Texts{"9.9 g", "8.9 g", "10.1 g"});  // and not 11 g of a piece of 10
  CHECK(band_grams({512.0, 488.0, 1041.0}) == Texts{"510 g", "480 g", "1.1 kg"});
  CHECK(band_grams({0.002, 0.00118, 0.00312}) == Texts{"2.0 mg", "1.1 mg", "3.2 mg"});
  CHECK(band_grams({9.876, 9.871, 9.882}) == Texts{"9.88 g", "9.87 g", "9.89 g"});
}

TEST_CASE("a hollow piece gets no silver, one without a density no curve", "[html]")
{
  Piece hollow = button();
  hollow.context.form = Form::hollow;
  const std::string html = page_of(hollow).html;
  CHECK(contains(html, "cannot be known from its weight"));
  CHECK_FALSE(contains(html, "<table>"));
  Piece mixed = button();
  mixed.weighing.count = 3;
  const Analysis analysis = weigh_up(mixed.weighing, 0.95);
  const std::string unlike = html_of_mixed(built_in_tables(), mixed, analysis, {"1.0", "", {}});
  CHECK(trouble_with_tags(unlike).empty());
  CHECK(contains(unlike, "names no metal"));
  CHECK_FALSE(contains(unlike, "Warning"));
  Piece heavy = mixed;
  heavy.weighing.readings.dry_g = {40.0};
  heavy.weighing.readings.rise_g = {1.2};
  const MixtureRange range = mixture_range_of(built_in_tables());
  const std::string wrong =
      html_of_mixed(built_in_tables(), heavy, weigh_up_mixed(range, heavy, 0.95), {"1.0", "", {}});
  CHECK(contains(wrong, "No metal gives such readings"));
  CHECK(contains(wrong, "Warning: The readings give 33.2"));
  CHECK_FALSE(contains(wrong, "names no metal"));
  mixed.context.place = "coins";
  CHECK_FALSE(contains(html_of_mixed(built_in_tables(), mixed, analysis, {"1.0", "", {}}), "asbestos"));
  mixed.context.place = "breaker";
  CHECK(contains(html_of_mixed(built_in_tables(), mixed, analysis, {"1.0", "", {}}), "asbestos"));
  CHECK(contains(unlike, "&lt;script&gt;"));
}

TEST_CASE("the density of a reading is the opposite of the reading of a density", "[html]")
{
  Piece piece = button();
  for (const Way way : {Way::rise, Way::submerged, Way::bottle}) {
    Readings& r = piece.weighing.readings;
    r = {};
    r.dry_g = {4.21};
    if (way == Way::rise) {
      r.cup_before_g = 100.0;
      r.cup_after_g = 100.42;
    } else if (way == Way::submerged) {
      r.submerged_g = {5.29};
      r.holder_g = 1.5;
    } else {
      r.bottle_full_g = 50.0;
      r.bottle_with_piece_g = 53.79;
      r.bottle_c = 15.0;
      r.bottle_with_piece_c = 25.0;
    }
    Surroundings& s = piece.weighing.surroundings;
    s = {};
    for (const double density : {2.7, 8.9, 10.49, 19.3}) {
      const Analysis analysis = weigh_up(piece.weighing, 0.95);
      const double reading = expected_reading_g(analysis, piece.weighing, density);
      CHECK_THAT(density_of_reading(piece, analysis, reading), WithinRel(density, 1e-4));
    }
    s.wetting = Wetting::sealed;
    s.thread_mm = s.evaporation_g = 0.0;
    const Analysis analysis = weigh_up(piece.weighing, 0.95);
    // What reads as it was read has the density that was weighed, where nothing is allowed for.
    CHECK_THAT(expected_reading_g(analysis, piece.weighing, analysis.density.plain),
               WithinAbs(reading_in_liquid_g(r), 1e-9));
    for (const double density : {2.7, 8.9, 10.49, 19.3}) {
      const double reading = expected_reading_g(analysis, piece.weighing, density);
      CHECK_THAT(density_of_reading(piece, analysis, reading), WithinRel(density, 1e-9));
    }
  }
}

TEST_CASE("bars and lines stand where their numbers say", "[html]")
{
  const std::string svg = bars_picture(
      "a & b", {{"one", 0.0, 1.0, {}, "all"}, {"two", 0.25, 0.75, 0.5, "half"}, {"<3>", 0.0, 2.0, {}, ""}});
  CHECK(trouble_with_tags(svg).empty());
  const std::size_t second = svg.find(">two<");
  const double whole = number_behind(svg, "width=\"");
  const double left = number_behind(svg, "class=\"bar\" x=\"");
  CHECK_THAT(number_behind(svg, "width=\"", second), WithinAbs(0.5 * whole, 0.11));
  CHECK_THAT(number_behind(svg, "class=\"bar\" x=\"", second), WithinAbs(left + 0.25 * whole, 0.11));
  CHECK_THAT(number_behind(svg, "class=\"curve\" d=\"M", second), WithinAbs(left + 0.5 * whole, 0.11));
  CHECK_THAT(number_behind(svg, "width=\"", svg.find("&lt;3&gt;")), WithinAbs(whole, 1e-9));  // never beyond the end
  CHECK(contains(svg, "aria-label=\"a &amp; b\""));

  // The band begins and ends as far along the axis as its densities are between two ticks.
  const Page p = page_of(button());
  const std::string picture = density_picture(p.piece, p.verdict);
  CHECK(trouble_with_tags(picture).empty());
  const auto x_of_tick = [&](const std::string& label) {
    const std::size_t end = picture.find(">" + label + "</text>");
    REQUIRE(end != std::string::npos);
    const std::size_t at = picture.rfind("x=\"", end);
    return std::strtod(picture.c_str() + at + 3, nullptr);
  };
  const double per_unit = (x_of_tick("10.2") - x_of_tick("9.8")) / 0.4;
  CHECK_THAT(number_behind(picture, "class=\"band\" d=\"M"),
             WithinAbs(x_of_tick("9.8") + (p.verdict.analysis.density.low - 9.8) * per_unit, 0.4));
}

// No outside source: rounding outwards by hand; whole ends stay, and a narrow range has a digit more.
TEST_CASE("no printed end of a composition lies within its band", "[html_report]")
{
  Candidate c;
  const auto words = [&](double low, double high) {
    c.fractions = {{"Ag", 0.5 * (low + high), low, high}};
    return composition_words(c);
  };
  CHECK(words(0.8352, 0.8615) == "Ag 83.5-86.2 %");
  CHECK(words(0.632, 0.671) == "Ag 63-68 %");
  CHECK(words(0.63, 0.67) == "Ag 63-67 %");
  CHECK(words(0.921, 0.921) == "Ag 92.1 %");
  CHECK(words(0.991, 0.998) == "Ag over 99 %");
  CHECK(words(0.985, 0.999) == "Ag 98.5-99.9 %");
}
