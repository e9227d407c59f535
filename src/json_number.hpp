#pragma once

#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>

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

/// Of whatever has a median between low and high.
template <typename Range>
Json band_json(const Range& band)
{
  return {{"median", number(band.median)}, {"low", number(band.low)}, {"high", number(band.high)}};
}

}  // namespace bilancetta
