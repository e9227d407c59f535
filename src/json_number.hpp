#pragma once

#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>
#include <string>

namespace bilancetta
{

using Json = nlohmann::ordered_json;

/// Nine significant digits: more than any scale carries, without binary noise.
inline Json number(double value)
{
  if (!std::isfinite(value)) {
    return nullptr;
  }
  char text[32];
  const auto [end, trouble] = std::to_chars(text, text + sizeof text, value, std::chars_format::general, 9);
  double rounded = value;
  std::from_chars(text, end, rounded);
  return rounded;
}

/// Of a scale.
template <typename Scale>
Json scale_json(const Scale& scale)
{
  return {{"readability_g", scale.readability_g},
          {"repeatability_g", scale.repeatability_g},
          {"linearity_g", scale.linearity_g}};
}

/// The text of a JSON value, its numbers in at most nine significant digits; a name that is no UTF-8 spoils nothing:
/// its bytes become replacement characters.
/// @param indent  -1: all on one line
std::string json_text(const Json& json, int indent = -1);

/// Of whatever has a median between low and high.
template <typename Range>
Json band_json(const Range& band)
{
  return {{"median", number(band.median)}, {"low", number(band.low)}, {"high", number(band.high)}};
}

}  // namespace bilancetta
