#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// Text as it may stand in HTML and SVG, in elements and in quoted attributes; what is no UTF-8 becomes U+FFFD.
std::string escaped(const std::string& text);

/// The density at which this piece would have shown a reading in the liquid, g/cm3; the opposite of
/// expected_reading_g, to the first order of what the readings leave out. Above 23 if nothing would be displaced.
double density_of_reading(const Piece& piece, const Analysis& analysis, double reading_g);

/// Candidates whose densities are marked, from the first on.
inline constexpr std::size_t candidates_marked = 6;

/// The curve of density with its band, and the first candidates as numbered lines (SVG). Empty if no density is
/// possible.
std::string density_picture(const Piece& piece, const Verdict& verdict);

/// One bar of a picture: its words, its length as a part of the whole, and what stands behind it.
struct HtmlBar {
  std::string label;
  double low = 0.0, high = 0.0;  ///< 0 to 1
  std::optional<double> mark{};  ///< a line across the bar
  std::string value;
};
std::string bars_picture(const std::string& title, const std::vector<HtmlBar>& bars);

}  // namespace bilancetta
