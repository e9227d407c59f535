#include "row_parser.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "bilancetta/spelling.hpp"
#include "csv.hpp"

namespace bilancetta
{

namespace
{

// What stands before the last line of a spreadsheet, also in the languages that write decimal commas.
bool names_a_total(std::string_view name)
{
  constexpr std::string_view totals[] = {"total",  "totals", "grand total", "subtotal", "sum",   "totale",
                                         "totaal", "somme",  "suma",        "summe",    "gesamt"};
  const auto is_sign = [](char c) { return std::string_view("=:#*").find(c) != std::string_view::npos; };
  while (!name.empty() && is_sign(name.front())) {
    name.remove_prefix(1);
  }
  while (!name.empty() && is_sign(name.back())) {
    name.remove_suffix(1);
  }
  return std::any_of(std::begin(totals), std::end(totals),
                     [&](std::string_view total) { return same_name(total, name); });
}

}  // namespace

RowParser::RowParser(const BatchColumns& columns, const PieceText& defaults, char separator, FinestDecimals finest)
    : columns_(&columns), separator_(separator), finest_(finest), text_(columns, defaults, separator)
{
}

ParsedRow RowParser::parse(char* text, std::size_t length, long line, std::string_view trouble)
{
  const std::size_t count = split_row(text, length, separator_, cells_);
  text_.read(cells_);
  ParsedRow row{
      &text_.text(), &text_.carried(),    std::max(finest_.of_all(), finest_decimals(text_.text())), std::nullopt,
      line,          std::string(trouble)};
  if (finest_.of_two_scales()) {
    row.decimals = finest_.dry;
    row.decimals_in_liquid = finest_.in_liquid;
  }
  if (row.trouble.empty() && count > columns_->count && !ends_blank(count)) {
    row.trouble = fmt::format("{} cells, but the header names {} columns", count, columns_->count);
  }
  if (row.trouble.empty() && text_.has_both_decimal_signs()) {
    row.trouble =
        "decimal commas and points stand in one row; write all its weights with one of them, and none for thousands";
  }
  if (const std::string& name = text_.text()[Field::piece]; row.trouble.empty() && names_a_total(name)) {
    row.trouble = fmt::format(
        "piece: \"{}\" is what a totals line is called, and that is no piece; take the line out, or give the piece "
        "another name",
        name);
  }
  return row;
}

// Whether all cells beyond the header are blank. Not where there are more than were kept, nor where a decimal comma may
// have cut a number in two: the last columns may have been left blank, and their cells moved on.
bool RowParser::ends_blank(std::size_t count) const
{
  const bool whole = count == cells_.size() && (separator_ != ',' || text_.has_decimal_points());
  return whole && std::all_of(cells_.begin() + static_cast<std::ptrdiff_t>(columns_->count), cells_.end(),
                              [](std::string_view cell) { return trimmed(cell).empty(); });
}

}  // namespace bilancetta
