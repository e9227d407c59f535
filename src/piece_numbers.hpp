#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bilancetta/piece_text.hpp"

namespace bilancetta
{

/// @throws Error (bad_option) that names the field.
[[noreturn]] void refuse_field(Field field, const std::string& message);

/// The numbers of a field, separated by blanks; at most 100. @throws Error as all that follow, naming the field, what
/// stands in it and how to write it.
std::vector<double> numbers_in(const PieceText& text, Field field);
/// The only number of a field, or nothing if it is empty.
std::optional<double> maybe_number(const PieceText& text, Field field);
/// The only number of a field, above 0 and at most `highest`.
double positive_number(const PieceText& text, Field field, double highest);

/// Refuses several readings of one quantity that lie too far apart to be repeats: mostly one number with a blank for
/// its thousands, or a slip of the decimal point. @throws Error (bad_reading)
void check_repeats(const PieceText& text, const Weighing& weighing);

}  // namespace bilancetta
