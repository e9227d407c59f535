#include "html_picture.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "displacement_errors.hpp"
#include "json_number.hpp"
#include "report_words.hpp"

namespace bilancetta
{

namespace
{

constexpr double width = 640.0;
constexpr double left = 16.0, right = 624.0, top = 44.0, bottom = 236.0, height = 276.0;
using density_grid::highest_g_cm3, density_grid::lowest_g_cm3;

// Where densities stand along the picture.
struct Axis {
  double low = 0.0, high = 1.0;
  [[nodiscard]] double x_of(double density) const { return left + (right - left) * (density - low) / (high - low); }
};

// The band in the middle third, wider where a candidate stands close by.
Axis axis_for(const DensitySummary& d, const std::vector<double>& candidates)
{
  const double band = std::max(d.high - d.low, 0.02);
  Axis axis{d.low - 0.8 * band, d.high + 0.8 * band};
  for (const double density : candidates) {
    if (density > d.low - 3.0 * band && density < d.high + 3.0 * band) {
      axis.low = std::min(axis.low, density - 0.1 * band);
      axis.high = std::max(axis.high, density + 0.1 * band);
    }
  }
  return {std::max(axis.low, lowest_g_cm3), std::min(axis.high, highest_g_cm3)};
}

// The curve's height at a density, between its points.
double height_at(const DensityCurve& curve, double density)
{
  const double share = (curve.liquid_g_cm3 - curve.air_g_cm3) / (density - curve.air_g_cm3);
  const double point = (share - curve.first_share) / curve.share_step;
  const auto before = static_cast<std::ptrdiff_t>(std::floor(point));
  if (before < 0 || before + 1 >= static_cast<std::ptrdiff_t>(curve.likelihood.size())) {
    return 0.0;
  }
  const double along = point - static_cast<double>(before);
  return (1.0 - along) * curve.likelihood[before] + along * curve.likelihood[before + 1];
}

double y_of(double height_part)
{
  return bottom - (bottom - top) * height_part;
}

std::string curve_path(const DensityCurve& curve, const Axis& axis, double from, double to, bool filled)
{
  constexpr int points = 160;
  std::string path = filled ? fmt::format("M{:.1f} {:.1f}", axis.x_of(from), bottom) : "";
  for (int i = 0; i <= points; ++i) {
    const double density = from + (to - from) * i / points;
    path +=
        fmt::format("{}{:.1f} {:.1f}", path.empty() ? "M" : "L", axis.x_of(density), y_of(height_at(curve, density)));
  }
  return path + (filled ? fmt::format("L{:.1f} {:.1f}Z", axis.x_of(to), bottom) : "");
}

// Round densities below the picture, about six of them.
std::string ticks_of(const Axis& axis)
{
  const double rough = (axis.high - axis.low) / 6.0;
  const double power = std::pow(10.0, std::floor(std::log10(rough)));
  const double step = power * (rough / power < 1.5   ? 1.0
                               : rough / power < 3.5 ? 2.0
                               : rough / power < 7.5 ? 5.0
                                                     : 10.0);
  const int decimals = std::max(0, -static_cast<int>(std::floor(std::log10(step) + 1e-9)));
  std::string svg = fmt::format("<path class=\"axis\" d=\"M{} {}H{}\"/>\n", left, bottom, right);
  const auto last = static_cast<int>(std::floor((axis.high + 1e-9) / step));
  for (auto tick = static_cast<int>(std::ceil(axis.low / step)); tick <= last; ++tick) {
    const double at = tick * step;
    svg += fmt::format("<path class=\"axis\" d=\"M{0:.1f} {1}v5\"/><text x=\"{0:.1f}\" y=\"{2}\">{3:.{4}f}</text>\n",
                       axis.x_of(at), bottom, bottom + 18, at, decimals);
  }
  return svg + fmt::format("<text x=\"{}\" y=\"{}\">density, g/cm3</text>\n", 0.5 * (left + right), height - 4);
}

// Numbered lines; numbers that would touch stand one above the other.
std::string marks_of(const Axis& axis, const std::vector<double>& candidates)
{
  constexpr double clear = 16.0;
  constexpr int rows = 3;
  double last[rows] = {-1e9, -1e9, -1e9};
  std::vector<std::pair<double, std::size_t>> order;
  for (std::size_t i = 0; i < candidates.size(); ++i) {
    if (candidates[i] >= axis.low && candidates[i] <= axis.high) {
      order.emplace_back(axis.x_of(candidates[i]), i + 1);
    }
  }
  std::sort(order.begin(), order.end());
  std::string svg;
  for (const auto& [x, number] : order) {
    int row = 0;
    while (row + 1 < rows && x - last[row] < clear) {
      ++row;
    }
    last[row] = x;
    const double y = top - 4.0 - 13.0 * row;
    svg +=
        fmt::format("<path class=\"mark\" d=\"M{0:.1f} {1:.1f}V{2}\"/><text x=\"{0:.1f}\" y=\"{3:.1f}\">{4}</text>\n",
                    x, y + 3.0, bottom, y, number);
  }
  return svg;
}

}  // namespace

std::string escaped(const std::string& text)
{
  std::string out;
  for (const char c : Json::parse(json_text(text)).get<std::string>()) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\'':
        out += "&#39;";
        break;
      default:
        out += static_cast<unsigned char>(c) < 0x20 || c == 0x7f ? ' ' : c;
    }
  }
  return out;
}

double density_of_reading(const Piece& piece, const Analysis& analysis, double reading_g)
{
  const Readings& r = piece.weighing.readings;
  const double dry = displacement_of(r).dry_g;
  const double air = analysis.curve.air_g_cm3;
  double displaced = 0.0;
  switch (way_of(r)) {
    case Way::rise:
      displaced = reading_g - r.cup_before_g.value_or(0.0);
      break;
    case Way::submerged:
      displaced = dry - reading_g + r.holder_g.value_or(0.0);
      break;
    case Way::bottle:
      displaced = dry - reading_g + full_bottle_g(r);
      break;
  }
  displaced +=
      displacement_errors_of(piece.weighing, {dry, displaced}, liquid_density_of(piece.weighing.surroundings), air)
          .mean_g();
  return displaced > 0.0 ? air + (analysis.curve.liquid_g_cm3 - air) * dry / displaced : 2.0 * highest_g_cm3;
}

std::string density_picture(const Piece& piece, const Verdict& v)
{
  const DensitySummary& d = v.analysis.density;
  if (!d.possible) {
    return "";
  }
  std::vector<double> candidates;
  for (std::size_t i = 0; i < std::min(v.candidates.size(), candidates_marked) && !v.background.hollow; ++i) {
    const Candidate& c = v.candidates[i];
    constexpr double nowhere = 0.0;  // the open mix has no typical density
    candidates.push_back(c.kind == Kind::open_mix ? nowhere
                                                  : density_of_reading(piece, v.analysis, c.expected_reading_g));
  }
  const Axis axis = axis_for(d, candidates);
  std::string svg = fmt::format("<svg viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"{}\">\n", width, height,
                                escaped("Density " + density_words(d, piece.weighing)));
  svg += fmt::format("<path class=\"band\" d=\"{}\"/>\n",
                     curve_path(v.analysis.curve, axis, std::max(d.low, axis.low), std::min(d.high, axis.high), true));
  svg += marks_of(axis, candidates);
  svg +=
      fmt::format("<path class=\"curve\" d=\"{}\"/>\n", curve_path(v.analysis.curve, axis, axis.low, axis.high, false));
  return svg + ticks_of(axis) + "</svg>\n";
}

std::string bars_picture(const std::string& title, const std::vector<HtmlBar>& bars)
{
  constexpr double from = 190.0, to = 500.0, row = 24.0;
  std::string svg = fmt::format("<svg viewBox=\"0 0 {} {:.0f}\" role=\"img\" aria-label=\"{}\">\n", width,
                                row * static_cast<double>(bars.size()) + 4.0, escaped(title));
  double y = 2.0;
  for (const HtmlBar& bar : bars) {
    const auto x_of = [&](double part) { return from + (to - from) * std::clamp(part, 0.0, 1.0); };
    svg += fmt::format("<text class=\"name\" x=\"{:.0f}\" y=\"{:.1f}\">{}</text>", from - 10.0, y + 15.0,
                       escaped(bar.label));
    svg += fmt::format("<path class=\"axis\" d=\"M{} {:.1f}H{}\"/>", from, y + row - 4.0, to);
    svg += fmt::format("<rect class=\"bar\" x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.0f}\"/>",
                       x_of(bar.low), y + 2.0, std::max(x_of(bar.high) - x_of(bar.low), 1.0), row - 6.0);
    if (bar.mark) {
      svg += fmt::format("<path class=\"curve\" d=\"M{:.1f} {:.1f}v{:.0f}\"/>", x_of(*bar.mark), y, row - 2.0);
    }
    svg += fmt::format("<text class=\"value\" x=\"{:.0f}\" y=\"{:.1f}\">{}</text>\n", to + 8.0, y + 15.0,
                       escaped(bar.value));
    y += row;
  }
  return svg + "</svg>\n";
}

}  // namespace bilancetta
