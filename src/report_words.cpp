#include "report_words.hpp"

#include <fmt/core.h>

#include <algorithm>

namespace bilancetta
{

namespace
{

constexpr std::size_t width = 78;

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

std::string grams(double g)
{
  if (g < 5e-5) {
    return "none";
  }
  return g < 0.0095 ? fmt::format("{:.1f} mg", 1000 * g)
         : g < 995  ? fmt::format("{:.2g} g", g)
                    : fmt::format("{:.2g} kg", g / 1000);
}

std::string caution_lines(const Verdict& v, std::string_view urgency)
{
  std::string text;
  for (const CautionShown& c : v.cautions) {
    if (c.urgency == urgency) {
      const std::string why = c.probability >= 0 ? fmt::format("{} likely: {}", percent(c.probability), c.why) : c.why;
      text += wrapped(fmt::format("{} ({}): {} [{}]", c.key, why, c.text, c.source), 6,
                      urgency == "stop" ? "STOP  " : "Care  ");
    }
  }
  return text;
}

std::string note_lines(const Verdict& v)
{
  std::string text;
  std::string documents;
  for (const CautionShown& c : v.cautions) {
    if (c.urgency == "note") {
      const std::string why = c.probability >= 0 ? fmt::format("{} likely", percent(c.probability)) : c.why;
      text += wrapped(fmt::format("{} ({}): {}", c.key, why, c.text.substr(0, c.text.find(". ") + 1)), 6, "Note  ");
      documents += documents.find(c.source) == std::string::npos ? (documents.empty() ? "" : "; ") + c.source : "";
    }
  }
  return text.empty() ? "" : text + wrapped("Your local rules come first [" + documents + "].", 6, "      ");
}

}  // namespace bilancetta
