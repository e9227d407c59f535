#pragma once

#include <array>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bilancetta/analysis.hpp"

namespace bilancetta
{

/// Everything that can be said of a piece in text: the columns of a CSV; `weigh` has an option for
/// each under the same name without its unit.
enum class Field {
  piece,
  dry_g,
  rise_g,
  cup_before_g,
  cup_after_g,
  submerged_g,
  holder_g,
  bottle_full_g,
  bottle_with_piece_g,
  count,
  mixed,
  water_c,
  water_c_u,
  tap_water,
  liquid_density,
  liquid_density_u,
  air_c,
  air_hpa,
  air_rh,
  scale,
  readability_g,
  repeatability_g,
  linearity_g,
  wetting,
  thread_mm,
  thread_not_tared,
  found,
  form,
  reagent,
  reagent_checked,
  magnet,
  skin_colour,
  notch_colour,
  back_colour,
  skin_reagent,
  notch_reagent,
  back_reagent,
  sides,
  edge,
  file,
  paper,
  conductivity_iacs,
  diameter_mm,
  thickness_mm,
  area_cm2,
  claim,
  as_typed,
  even_odds,
  drift_g,
  air_free,
  cup_mm,
  evaporation_g,
  soaked_g,
  bottle_c,
  bottle_with_piece_c,
  liquid_scale,
  span_u,
  reference_density,
  reference_density_u,
  reference_mass_g,
  cup_resting_g,
  lot,
  layer_mm,
  tare_rounded
};
inline constexpr int field_count = static_cast<int>(Field::tare_rounded) + 1;
std::string_view name_of(Field field);
/// The field of a column name (case and blanks forgiven), or none.
std::optional<Field> field_called(std::string_view name);

/// The field that takes the answers of the bench test with this key, or none.
std::optional<Field> field_of_test(std::string_view key);

/// Texts by field; empty means not given.
class PieceText
{
 public:
  [[nodiscard]] const std::string& operator[](Field field) const { return text_[static_cast<int>(field)]; }
  std::string& operator[](Field field) { return text_[static_cast<int>(field)]; }

 private:
  std::array<std::string, field_count> text_;
};

/// Fills fields that are still empty from a file of settings: TOML lines `field = value` of what describes the bench.
/// @throws Error (cannot_open, bad_option, unknown_key) with file and line, also for a value that no weighing could
/// use.
void add_settings(const Tables& tables, PieceText& text, const std::filesystem::path& path);

/// A piece made of texts, with the defaults that were used, in words.
struct PieceRead {
  Piece piece;
  bool mixed = false;  ///< unlike pieces weighed together: only the mean density means anything
  std::vector<std::string> assumed;
};

/// Decimals of the finest number in a text of one or more numbers; "5.00" has two.
int decimals_of(std::string_view numbers);
/// Whether the field holds what the scale of the dry weight showed.
/// @param other_scale_in_liquid  what was read in the liquid is of another scale
bool is_reading(Field field, bool other_scale_in_liquid);
/// Decimals of the finest of the readings.
int finest_decimals(const PieceText& text);
/// The same of the field that has fewest.
int coarsest_decimals(const PieceText& text);

/// Reads all fields. `decimals` (of the scale's display) stands in when neither scale nor readability
/// is given, and so does `decimals_in_liquid`, if another scale is taken to have read there.
/// @throws Error naming the field, its value, what is allowed and what to do.
PieceRead piece_from(const Tables& tables, const PieceText& text, int decimals,
                     std::optional<int> decimals_in_liquid = std::nullopt);

/// Adds to the piece's doubts that all its readings have two decimals fewer, or more, than the scale that was named
/// shows. Not for a CSV, of which spreadsheets drop zeros.
void doubt_decimals(const PieceText& text, PieceRead& read);
/// The same of a row of a CSV if none of its weights has a decimal.
void doubt_points(const PieceText& text, PieceRead& read);

}  // namespace bilancetta
