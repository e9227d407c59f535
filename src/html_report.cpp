#include "bilancetta/html_report.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "bilancetta/mixed_verdict.hpp"
#include "html_picture.hpp"
#include "report_words.hpp"
#include "sentence.hpp"
#include "words.hpp"

namespace bilancetta
{

namespace
{

constexpr const char* style = R"(
:root{color-scheme:light dark;--ink:#1c2126;--paper:#fff;--faint:#68727d;--line:#c9ced4;--fill:#9fb8cf;--dark:#1f4e79;--stop:#a3241b}
@media(prefers-color-scheme:dark){:root{--ink:#e4e7ea;--paper:#15181b;--faint:#9aa4ae;--line:#444b52;--fill:#3c5a78;--dark:#9cc3ea;--stop:#ff8d82}}
@media print{:root{--ink:#000;--paper:#fff;--faint:#444;--line:#999;--fill:#bbb;--dark:#000;--stop:#000}section,tr{break-inside:avoid}}
body{font:16px/1.45 system-ui,sans-serif;color:var(--ink);background:var(--paper);max-width:46rem;margin:2rem auto;padding:0 1rem;overflow-wrap:anywhere}
h1{font-size:1.3rem}h2{font-size:1.05rem;margin:1.8rem 0 .4rem}
.said{font-size:1.2rem}.small{color:var(--faint);font-size:.85rem}
.stop{border:2px solid var(--stop);padding:.5rem .8rem;margin:.8rem 0}.stop b{color:var(--stop)}
.next{border-left:4px solid var(--dark);padding:.2rem .8rem}
table{border-collapse:collapse;width:100%}th,td{text-align:left;vertical-align:top;padding:.3rem .5rem;border-bottom:1px solid var(--line)}
th{font-weight:600}.n{text-align:right}td.n{white-space:nowrap}
svg{width:100%;height:auto;font:13px system-ui,sans-serif}svg text{fill:var(--ink);text-anchor:middle}svg .name{text-anchor:end}svg .value{text-anchor:start}
.axis{stroke:var(--line);fill:none}.curve{stroke:var(--dark);fill:none;stroke-width:2}.band,.bar{fill:var(--fill)}.mark{stroke:var(--faint);stroke-dasharray:3 3;fill:none}
)";

std::string paragraph(const std::string& text, const char* kind = "")
{
  return fmt::format("<p{}>{}</p>\n", *kind != 0 ? fmt::format(" class=\"{}\"", kind) : "", escaped(text));
}

std::string section(const char* heading, const std::string& content)
{
  return content.empty() ? "" : fmt::format("<section><h2>{}</h2>\n{}</section>\n", heading, content);
}

std::string page(const Piece& piece, const ReportHeading& heading, const std::string& content)
{
  const std::string title = escaped(piece.name.empty() ? "One weighing" : piece.name);
  std::string foot;
  for (const std::string& one : heading.assumed) {
    foot += (foot.empty() ? "Assumed: " : "; ") + one;
  }
  foot += fmt::format("{}bilancetta {}, tables {}.", foot.empty() ? "" : ". ", heading.version,
                      heading.tables_checksum.substr(0, 8));
  return fmt::format(
             "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n"
             "<meta name=\"viewport\" content=\"width=device-width\">\n"
             "<title>{0}</title>\n<style>{1}</style></head>\n<body>\n<h1>{0}</h1>\n",
             title, style) +
         content + paragraph(foot, "small") + "</body></html>\n";
}

std::string cautions_of_urgency(const std::vector<CautionShown>& cautions, Urgency urgency)
{
  std::string html;
  for (const CautionShown& c : cautions) {
    if (c.urgency == urgency) {
      html += urgency == Urgency::stop ? "<div class=\"stop\"><b>Stop.</b> " + escaped(caution_words(c)) + "</div>\n"
                                       : paragraph(caution_words(c));
    }
  }
  return html;
}

std::string opening(const Verdict& v)
{
  std::string html = cautions_of_urgency(v.cautions, Urgency::stop);
  if (v.reference) {
    html += paragraph(v.reference->words + ".", "said");
  }
  if (v.claim) {
    html += paragraph(v.claim->because, "said") +
            paragraph("Density alone proves no claim." + (settles_claim(v) ? "" : " " + settling_words(*v.claim)));
  }
  html += paragraph((v.claim ? "Leaving the claim aside: " : "") + v.sentence, v.reference || v.claim ? "" : "said");
  for (const std::string& conflict : v.conflicts) {
    html += paragraph("But: " + conflict + ".");
  }
  for (const std::string& warning : v.warnings) {
    html += paragraph("Warning: " + warning);
  }
  return html + paragraph((settles_claim(v) ? "" : "Next: ") + v.one_thing, "next");
}

std::string density_section(const Piece& piece, const Verdict& v)
{
  const int count = piece.weighing.count;
  std::string words =
      fmt::format("Mass {:.{}f} g{}.", v.mass_g, decimals_shown(piece.weighing.scale),
                  count > 1 ? fmt::format(" for {} pieces, {} g each", count, significant(v.mass_g / count, 3)) : "");
  const std::string picture = density_picture(piece, v);
  return paragraph("Density " + density_words(v.analysis.density, piece.weighing) + ". " + words) + picture +
         (picture.empty()
              ? ""
              : paragraph("How well each density explains the readings; the band is filled, and the lines are "
                          "what the candidates below, by their numbers, typically have.",
                          "small"));
}

std::string candidates_table(const Piece& piece, const Verdict& v)
{
  if (v.candidates.empty() || v.background.hollow) {
    return "";
  }
  const int decimals = decimals_shown(liquid_scale_of(piece.weighing));
  std::string html = fmt::format(
      "<table><tr><th></th><th class=\"n\">probability</th><th>material</th><th>made of</th><th class=\"n\">would "
      "read, g (yours {:.{}f})</th><th>told by</th></tr>\n",
      reading_in_liquid_g(piece.weighing.readings), decimals);
  for (std::size_t i = 0; i < std::min<std::size_t>(v.candidates.size(), 10); ++i) {
    const Candidate& c = v.candidates[i];
    html += fmt::format(
        "<tr><td>{}</td><td class=\"n\">{}</td><td>{}</td><td>{}</td><td class=\"n\">{}</td><td>{}</td></tr>\n",
        i < candidates_marked ? std::to_string(i + 1) : "", escaped(percent(c.probability)), escaped(c.words),
        escaped(composition_words(c)), expected_reading(c, decimals), escaped(c.told_by));
  }
  return html + "</table>\n";
}

std::string builds_section(const Verdict& v)
{
  if (v.candidates.empty()) {
    return "";
  }
  std::vector<HtmlBar> bars;
  for (const Build build : all_builds) {
    const double p = v.analysis.builds[static_cast<int>(build)];
    bars.push_back({std::string(name_of(build)), 0.0, p, {}, percent(p)});
  }
  return bars_picture("How it may be made", bars);
}

// Bands as parts of the whole mass, so that they can be compared at sight.
std::string metals_section(const Verdict& v)
{
  if (v.background.hollow) {
    return paragraph("The silver in hollow or filled ware cannot be known from its weight.");
  }
  std::vector<HtmlBar> bars;
  for (std::size_t m = 0; m < precious_metals.size(); ++m) {
    const auto found = v.precious_g.find(precious_metals[m]);
    if (found != v.precious_g.end() && (found->second.high >= least_shown_g || m == 0)) {
      const Band& g = found->second;
      const auto [middle, low, high] = band_grams(g);
      bars.push_back({precious_metal_names[m], g.low / v.mass_g, g.high / v.mass_g, g.median / v.mass_g,
                      fmt::format("{} to {}", low, high)});
    }
  }
  if (bars.empty()) {
    return "";
  }
  std::string html = bars_picture("Precious metal in the piece", bars) +
                     paragraph("The line across a bar is the middle; the full length is the whole piece.", "small");
  if (v.worth) {
    html += paragraph(fmt::format("Worth about {}, between {} and {}, at the price given.", rounded(v.worth->median),
                                  low_of_sum(v.worth->low), high_of_sum(v.worth->high)));
  }
  return html;
}

std::string budget_section(const Verdict& v)
{
  std::vector<HtmlBar> bars;
  for (const BudgetLine& line : v.budget) {
    if (line.share >= 0.005 || bars.empty()) {
      bars.push_back({line.cause,
                      0.0,
                      line.share,
                      {},
                      fmt::format("{}, {} g/cm3", percent(line.share), significant(line.standard_uncertainty, 2))});
    }
  }
  if (bars.empty()) {
    return "";
  }
  std::string html = bars_picture("What the doubt in density comes from", bars);
  if (!v.remedy.words.empty()) {
    html +=
        paragraph(fmt::format("What {}: {}, {} g/cm3 in all.", v.remedy.comes_first ? "comes first" : "would help most",
                              v.remedy.words, significant(v.remedy.standard_uncertainty, 2)));
  }
  return html;
}

std::string reasons_section(const Verdict& v)
{
  std::string html;
  for (const std::string& reason : v.why) {
    html += paragraph(reason);
  }
  for (const RuledOut& r : v.ruled_out) {
    html += paragraph("Ruled out: " + r.why + ".");
  }
  return html;
}

}  // namespace

std::string html_report(const Tables& tables, const Piece& piece, const Verdict& v, const ReportHeading& heading)
{
  std::string html = opening(v);
  html += section("Take care", cautions_of_urgency(v.cautions, Urgency::care));
  html += section("Density", density_section(piece, v));
  html += section("What it may be", candidates_table(piece, v));
  html += section("How it may be made", builds_section(v));
  html += section("Precious metal", metals_section(v));
  html += section("What the doubt in density comes from", budget_section(v));
  html += section("Why", reasons_section(v));
  html += section("To note", cautions_of_urgency(v.cautions, Urgency::note));
  ReportHeading with_tables = heading;
  with_tables.tables_checksum = tables.checksum;
  return page(piece, with_tables, html + paragraph(fmt::format("Pile: {}{}.", name_of(v.pile), why_undecided(v))));
}

std::string html_of_mixed(const Tables& tables, const Piece& piece, const Analysis& analysis,
                          const ReportHeading& heading)
{
  std::string warnings;
  for (const std::string& warning : mixed_warnings_of(analysis, piece)) {
    warnings += paragraph("Warning: " + warning);
  }
  return page(piece, heading,
              paragraph(mixed_sentence(analysis), "said") +
                  paragraph("Density " + density_words(analysis.density, piece.weighing) + ".") + warnings +
                  paragraph(std::string(unlike_pieces_cautions)) +
                  section("To note", cautions_of_urgency(cautions_of(tables, analysis, piece), Urgency::note)) +
                  paragraph("Next: " + mixed_next_step(analysis), "next"));
}

}  // namespace bilancetta
