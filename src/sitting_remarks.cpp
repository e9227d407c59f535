#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "bilancetta/sitting.hpp"
#include "sitting_fit.hpp"
#include "words.hpp"

namespace bilancetta
{

namespace
{

constexpr std::size_t most_named = 12;  // rows named in one sentence

std::string list_of(const std::vector<long>& rows)
{
  std::string text;
  for (std::size_t i = 0; i < rows.size() && i < most_named; ++i) {
    text += fmt::format("{}{}", i == 0 ? "" : ", ", rows[i]);
  }
  return rows.size() > most_named ? fmt::format("{} and {} more", text, rows.size() - most_named) : text;
}

std::string row_or_rows(const std::vector<long>& rows)
{
  return (rows.size() == 1 ? "line " : "lines ") + list_of(rows);
}

// One known piece that the others contradict is wrong itself; if all are, the bench may be. A mass that fits saves no
// density: it tells of the span alone.
bool known_all_flagged(const SittingResult& result)
{
  for (const SittingReading kind : {SittingReading::known_density, SittingReading::known_mass}) {
    int known = 0;
    int flagged = 0;
    for (const CheckedReading& c : result.readings) {
      known += c.reading == kind ? 1 : 0;
      flagged += c.reading == kind && c.flagged ? 1 : 0;
    }
    if (known > 0) {
      return flagged == known;
    }
  }
  return false;
}

// Those of which nothing is said yet.
std::vector<long> uncheckable_besides_flagged(const SittingResult& result)
{
  std::vector<long> rows;
  for (const long row : result.uncheckable) {
    if (std::none_of(result.readings.begin(), result.readings.end(),
                     [&](const CheckedReading& c) { return c.row == row && c.flagged; })) {
      rows.push_back(row);
    }
  }
  return rows;
}

std::string misfit_words(const CheckedReading& c)
{
  const char* unit = c.reading == SittingReading::known_density ? "g/cm3" : "g";
  return fmt::format(
      "the {} does not fit the rest (off by about {} {}, {:.1f} times what is to be expected) and {}: weigh it again",
      name_of(c.reading), significant(c.off, 2), unit, std::abs(c.w),
      c.one_of_several ? "either it or another number of this piece that does not fit is wrong" : "was left out");
}

// Which row stands for the piece of a number that does not fit, if that is another.
std::string standing_words(const SittingResult& result, const CheckedReading& c)
{
  const long standing = standing_row_of(result, c.row);
  return standing == c.row ? "" : fmt::format("; line {} stands for the piece", standing);
}

// Or if it stands all the same, as no weighing of the piece is better. What says what is known of it stands for that.
std::string for_want_of_better(const SittingResult& result, const CheckedReading& c)
{
  const bool known = std::any_of(result.readings.begin(), result.readings.end(), [&](const CheckedReading& other) {
    return other.row == c.row &&
           (other.reading == SittingReading::known_density || other.reading == SittingReading::known_mass);
  });
  const bool stands = std::any_of(result.repeats.begin(), result.repeats.end(),
                                  [&](const Repeat& repeat) { return repeat.standing == c.row; });
  return stands && !known ? "; until then it stands for the piece, as no other weighing of it fits better" : "";
}

void add_moved(const SittingResult& result, std::vector<std::string>& remarks)
{
  if (const auto moved = moved_zero_of(result.readings)) {
    remarks.push_back(fmt::format(
        "{} line {} the readings in the liquid are off by about {} g, the others not: the zero seems to have moved "
        "there (holder, thread or cup touched, filled up or tared anew). Give what was weighed before and after as two "
        "sittings, each with known or repeated pieces of its own",
        moved->after ? "From" : "Up to", moved->row, significant(moved->off_g, 2)));
  }
}

void add_dark(const SittingResult& result, std::vector<std::string>& remarks)
{
  if (result.dark_u_g > 0.0) {
    remarks.push_back(fmt::format(
        "Readings in the liquid that can be checked err by about {} g besides all that the bench was said to "
        "err, so every piece of this sitting is taken to. Look for a zero that moves, a draught or bubbles, "
        "and whether the scale is as good as was said",
        significant(result.dark_u_g, 2)));
  }
}

void add_flagged(const SittingResult& result, std::vector<std::string>& remarks)
{
  std::size_t flagged = 0;
  std::size_t readings = 0;
  for (const CheckedReading& c : result.readings) {
    readings += c.reading == SittingReading::in_liquid ? 1 : 0;
    flagged += c.reading == SittingReading::in_liquid && c.flagged ? 1 : 0;
  }
  if (flagged > 1 && 2 * flagged > readings) {
    remarks.emplace_back(
        "Most of the known or repeated pieces disagree: the tare, the liquid or the scale is not what "
        "was said. Set it right and weigh them again before the rest is believed");
  }
  if (known_all_flagged(result)) {
    remarks.emplace_back(
        "No known piece reads what is known of it, and so they teach nothing: either what was said of them is wrong, "
        "or the bench misreads every piece alike, and nothing corrects that here. Settle it before the rest is "
        "believed");
  }
  std::size_t named = 0;
  for (const CheckedReading& c : result.readings) {
    if (c.flagged && named++ < most_named) {
      remarks.push_back(fmt::format("Line {}: {}{}{}", c.row, misfit_words(c), standing_words(result, c),
                                    for_want_of_better(result, c)));
    }
  }
  if (named > most_named) {
    remarks.push_back(fmt::format("{} more numbers do not fit", named - most_named));
  }
}

void add_shared(const SittingResult& result, std::vector<std::string>& remarks)
{
  for (int i = 0; i < shared_error_count && result.informative_rows > 0; ++i) {
    const SharedEstimate& e = result.shared[i];
    const auto error = static_cast<SharedError>(i);
    if (e.standard_uncertainty < 0.9 * e.prior_u || std::abs(e.value) > 3.0 * e.prior_u) {
      remarks.push_back(
          fmt::format("The {} is off by {} +- {} {}; {} was allowed for{}", name_of(error),
                      supported(e.value, e.standard_uncertainty), significant(e.standard_uncertainty, 2),
                      unit_of(error), significant(e.prior_u, 2),
                      std::abs(e.value) > 3.0 * e.prior_u ? ": far more than the bench was said to err" : ""));
    } else {
      remarks.push_back(fmt::format("These rows hardly tell of the {}: it stays at {} +- {} {}", name_of(error),
                                    supported(e.value, e.standard_uncertainty), significant(e.standard_uncertainty, 2),
                                    unit_of(error)));
    }
  }
}

}  // namespace

std::string_view name_of(SharedError error)
{
  constexpr std::string_view names[] = {"liquid's density", "zero in the liquid", "drift of the zero",
                                        "span of the scale"};
  return names[static_cast<int>(error)];
}

std::string_view unit_of(SharedError error)
{
  constexpr std::string_view units[] = {"g/cm3", "g", "g over the sitting", "of the reading"};
  return units[static_cast<int>(error)];
}

std::string_view name_of(SittingReading reading)
{
  constexpr std::string_view names[] = {"dry weight", "reading in the liquid", "reading at rest in the cup",
                                        "known density", "known mass"};
  return names[static_cast<int>(reading)];
}

std::vector<std::string> remarks_on_row(const SittingResult& result, long row, const Weighing& weighing)
{
  std::vector<std::string> remarks;
  auto c = std::lower_bound(result.flagged.begin(), result.flagged.end(), row,
                            [](const CheckedReading& reading, long wanted) { return reading.row < wanted; });
  for (; c != result.flagged.end() && c->row == row; ++c) {
    remarks.push_back(fmt::format("In this sitting {}{}.", misfit_words(*c), standing_words(result, *c)));
  }
  if (std::binary_search(result.unlike.begin(), result.unlike.end(), row)) {
    remarks.emplace_back(
        "In this sitting the dry weight differs too much from others of that name for one piece, and it was not taken "
        "as a repeat: give every piece a name of its own.");
  }
  if (result.dark_u_g > 0.0 && result.bench.is_that_of(weighing)) {
    remarks.push_back(fmt::format(
        "In this sitting readings that can be checked err by about {} g more than the bench was said to, and this one "
        "is taken to: its band is wider for that.",
        significant(result.dark_u_g, 2)));
  }
  return remarks;
}

std::vector<std::string> remarks_of(const SittingResult& result)
{
  std::vector<std::string> remarks;
  if (!result.converged) {
    remarks.emplace_back(
        "The readings of the sitting could not be made to agree by any shared errors: do not rely on what is said of "
        "them. Look for slips of the pen in the known and repeated pieces, or go without --sitting");
  }
  add_moved(result, remarks);
  add_flagged(result, remarks);
  add_dark(result, remarks);
  if (const std::vector<long> rows = uncheckable_besides_flagged(result); !rows.empty()) {
    remarks.push_back(
        fmt::format("What {} read cannot be checked: weigh it again (nothing else of this sitting says what "
                    "it should be)",
                    row_or_rows(rows)));
  }
  if (!result.unlike.empty()) {
    remarks.push_back(
        fmt::format("The dry weight of {} differs too much from others of that name for one piece; it was "
                    "not taken as a repeat. Give every piece a name of its own",
                    row_or_rows(result.unlike)));
  }
  add_shared(result, remarks);
  if (result.rows_of_other_benches > 0) {
    remarks.push_back(fmt::format(
        "{} weighed in another way, on another scale or in another liquid and left as found",
        result.rows_of_other_benches == 1 ? "1 row was" : fmt::format("{} rows were", result.rows_of_other_benches)));
  }
  const long once = result.rows - result.rows_of_other_benches - result.informative_rows;
  if (result.informative_rows == 0) {
    remarks.emplace_back(
        "No row tells of the shared errors: weigh pieces of known density or mass among the others, "
        "or some pieces twice under the same name");
  } else if (once > 0) {
    remarks.push_back(
        fmt::format("Pieces that were weighed once ({}) are corrected by what the others teach, but "
                    "a slip in one of them cannot be seen",
                    once));
  }
  return remarks;
}

}  // namespace bilancetta
