#include "picture.hpp"

#include <fmt/core.h>

#include <cmath>

namespace validation
{

namespace
{

constexpr double width = 420.0, height = 260.0;
constexpr double left = 56.0, right = 12.0, top = 30.0, bottom = 46.0;

double x_at(const Picture& p, double x)
{
  return left + (width - left - right) * (x - p.x_low) / (p.x_high - p.x_low);
}

double y_at(const Picture& p, double y)
{
  return height - bottom - (height - top - bottom) * (y - p.y_low) / (p.y_high - p.y_low);
}

// 1, 2 or 5 times a power of ten, so that four to eight steps fill the range.
double step_of(double range)
{
  const double power = std::pow(10.0, std::floor(std::log10(range / 4.0)));
  for (const double factor : {5.0, 2.0}) {
    if (range / (factor * power) >= 4.0) {
      return factor * power;
    }
  }
  return power;
}

std::string text(double x, double y, const char* anchor, const std::string& words, const char* more = "")
{
  return fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" text-anchor=\"{}\"{}>{}</text>\n", x, y, anchor, more, words);
}

// Round numbers along an axis.
std::vector<double> ticks_of(double low, double high)
{
  const double step = step_of(high - low);
  std::vector<double> ticks;
  const int first = static_cast<int>(std::ceil(low / step - 1e-9));
  const int last = static_cast<int>(std::floor(high / step + 1e-9));
  for (int i = first; i <= last; ++i) {
    ticks.push_back(i == 0 ? 0.0 : i * step);
  }
  return ticks;
}

std::string grid_of(const Picture& p)
{
  std::string svg;
  for (const double y : ticks_of(p.y_low, p.y_high)) {
    svg += fmt::format("<path class=\"grid\" d=\"M{:.1f} {:.1f}H{:.1f}\"/>\n", left, y_at(p, y), width - right);
    svg += text(left - 6, y_at(p, y) + 4, "end", fmt::format("{:g}", y));
  }
  for (const auto& [x, name] : p.x_names) {
    svg += text(x_at(p, x), height - bottom + 16, "middle", name);
  }
  if (!p.x_names.empty()) {
    return svg;
  }
  for (const double x : ticks_of(p.x_low, p.x_high)) {
    svg += fmt::format("<path class=\"grid\" d=\"M{:.1f} {:.1f}V{:.1f}\"/>\n", x_at(p, x), top, height - bottom);
    svg += text(x_at(p, x), height - bottom + 16, "middle", fmt::format("{:g}", x));
  }
  return svg;
}

std::string line_of(const Picture& p)
{
  std::string band;
  std::string line;
  for (const auto& [x, y] : p.line) {
    band += fmt::format("{}{:.1f} {:.1f}", band.empty() ? "M" : "L", x_at(p, x), y_at(p, y + p.band));
    line += fmt::format("{}{:.1f} {:.1f}", line.empty() ? "M" : "L", x_at(p, x), y_at(p, y));
  }
  for (auto at = p.line.rbegin(); at != p.line.rend(); ++at) {
    band += fmt::format("L{:.1f} {:.1f}", x_at(p, at->first), y_at(p, at->second - p.band));
  }
  return line.empty() ? ""
                      : fmt::format("<path class=\"band\" d=\"{}Z\"/>\n<path class=\"line\" d=\"{}\"/>\n", band, line);
}

std::string bars_of(const Picture& p)
{
  std::string svg;
  for (const Bar& bar : p.bars) {
    svg += fmt::format("<path class=\"band\" d=\"M{0:.1f} {2:.1f}H{1:.1f}V{3:.1f}H{0:.1f}Z\"/>\n", x_at(p, bar.from),
                       x_at(p, bar.to), y_at(p, bar.high), y_at(p, bar.low));
    svg += fmt::format("<path class=\"line\" d=\"M{:.1f} {:.1f}H{:.1f}\"/>\n", x_at(p, bar.from), y_at(p, bar.middle),
                       x_at(p, bar.to));
  }
  return svg;
}

}  // namespace

std::string svg_of(const Picture& p)
{
  std::string svg = fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0:.0f} {1:.0f}\" width=\"{0:.0f}\" height=\"{1:.0f}\" "
      "font-family=\"sans-serif\" font-size=\"11\">\n<title>{2}</title>\n<style>.grid{{stroke:#ddd}}"
      ".band{{fill:#dbe7f3}}.line{{stroke:#1f5a94;stroke-width:2;fill:none}}"
      "circle{{fill:#c2410c;fill-opacity:.75;stroke:#fff}}text{{fill:#333}}</style>\n"
      "<rect width=\"{0:.0f}\" height=\"{1:.0f}\" fill=\"#fff\"/>\n",
      width, height, p.title);
  const std::string clip = fmt::format(
      "<clipPath id=\"area\"><rect x=\"{:.0f}\" y=\"{:.0f}\" width=\"{:.0f}\" height=\"{:.0f}\"/></clipPath>\n", left,
      top, width - left - right, height - top - bottom);
  svg += clip + grid_of(p) + "<g clip-path=\"url(#area)\">\n" + line_of(p) + bars_of(p) + "</g>\n";
  for (const auto& [x, y] : p.points) {
    svg += fmt::format("<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"4\"/>\n", x_at(p, x), y_at(p, y));
  }
  svg += fmt::format("<path d=\"M{:.1f} {:.1f}V{:.1f}H{:.1f}\" fill=\"none\" stroke=\"#333\"/>\n", left, top,
                     height - bottom, width - right);
  svg += text(left, 18, "start", p.title, " font-weight=\"bold\" font-size=\"13\"");
  svg += text(0.5 * (left + width - right), height - 10, "middle", p.x_label);
  svg += text(14, 0.5 * (top + height - bottom), "middle", p.y_label,
              fmt::format(" transform=\"rotate(-90 14 {:.1f})\"", 0.5 * (top + height - bottom)).c_str());
  return svg + "</svg>\n";
}

}  // namespace validation
