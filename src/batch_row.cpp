#include "batch_row.hpp"

#include <fmt/core.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <new>

#include "bilancetta/error.hpp"
#include "bilancetta/mixed_verdict.hpp"
#include "bilancetta/report.hpp"
#include "csv.hpp"
#include "report_words.hpp"
#include "row_verdict.hpp"
#include "words.hpp"

namespace bilancetta
{

namespace
{

// Decimals that show two digits of a standard uncertainty.
int decimals_of_two_digits(double u)
{
  return std::clamp(static_cast<int>(std::ceil(1.0 - std::log10(std::max(u, 1e-9)))), 0, 6);
}

std::string joined(const std::vector<std::string>& words, const char* link)
{
  std::string text;
  for (const std::string& word : words) {
    text += (text.empty() ? "" : link) + word;
  }
  return text;
}

std::string error_row(const std::string& name, const std::string& message, const std::vector<std::string>& carried)
{
  RowWriter row;
  row.cell(name);
  row.cell("error");
  row.blanks(static_cast<int>(result_columns().size()) - 3);
  row.cell(message);
  row.cells(carried);
  return row.take();
}

constexpr std::size_t longest_message = 500;  // it may quote a cell of a megabyte

void write_density(const Analysis& a, RowWriter& row)
{
  const DensitySummary& d = a.density;
  if (!d.possible) {
    row.blanks(3);
    return;
  }
  const int decimals = decimals_of_two_digits(d.standard_uncertainty);
  row.number(d.value, decimals);
  row.cell(low_end(d.low, decimals));
  row.cell(high_end(d.high, decimals));
}

void write_material(const Tables& tables, const Analysis& a, const std::vector<int>& plausible, RowWriter& row)
{
  if (plausible.empty()) {
    row.blanks(8);
    return;
  }
  const Hypothesis& best = (*a.members)[plausible.front()]->hypothesis;
  if (!a.explained) {
    row.blanks(4);  // a name would mislead
  } else {
    row.cell(best.kind == Kind::open_mix ? "open-mix" : tables.materials[best.outer_material].key);
    row.cell(name_of(best.build));
    row.cell(best.inner_material >= 0 ? tables.materials[best.inner_material].key : "");
    row.number(a.posterior[plausible.front()], 3);
  }
  for (const double p : a.builds) {
    row.number(p, 3);
  }
}

void write_precious(const RowVerdict& verdict, const Piece& piece, RowWriter& row)
{
  if (verdict.plausible.empty()) {
    row.blanks(9);
    return;
  }
  for (const double fraction : {verdict.silver.median, verdict.silver.low, verdict.silver.high}) {
    row.number(fraction, 3);
  }
  if (piece.context.is_hollow_ware()) {
    row.blanks(6);  // its weight does not tell them
    return;
  }
  for (const double grams : {verdict.silver_g.median, verdict.silver_g.low, verdict.silver_g.high}) {
    row.cell(significant(grams, 3));
  }
  // Less comes of rows that hardly count.
  constexpr double least_g = 1e-4;
  for (const double grams : verdict.other_precious_g) {
    row.cell(grams < least_g ? "0" : significant(grams, 2));
  }
}

// Of unlike pieces weighed together only the mean density is known.
std::string mixed_text(const PieceRead& read, const Analysis& a, const std::vector<std::string>& carried)
{
  RowWriter row;
  row.cell(read.piece.name);
  row.cell(a.explained ? "ok" : "unexplained");
  write_density(a, row);
  row.blanks(static_cast<int>(result_columns().size()) - 6);
  std::vector<std::string> said = mixed_warnings_of(a, read.piece);
  if (a.density.possible) {  // else the warnings say it
    said.insert(said.begin(), mixed_sentence(a));
  }
  said.emplace_back(unlike_pieces_cautions);
  row.cell(joined(said, " "));
  row.cells(carried);
  return row.take();
}

std::string text_of_row(const Tables& tables, const Piece& piece, const RowVerdict& verdict,
                        const std::vector<std::string>& carried)
{
  const Analysis& a = verdict.analysis;
  RowWriter row;
  row.cell(piece.name);
  row.cell(a.explained && !verdict.plausible.empty() ? "ok" : "unexplained");
  write_density(a, row);
  write_material(tables, a, verdict.plausible, row);
  write_precious(verdict, piece, row);
  row.cell(name_of(verdict.pile));
  std::vector<std::string> keys;
  for (const int caution : verdict.cautions) {
    keys.push_back(tables.cautions[caution].key);
  }
  row.cell(joined(keys, " "));
  std::string message = message_of(tables, verdict, piece);
  if (piece.claim.empty()) {
    row.blanks(2);
  } else {
    const ClaimRuling claim = claim_ruling_of(tables, a, piece, Opposites::as_needed);
    row.cell(claim.claim.key);
    row.cell(name_of(claim.result));
    const std::string remark = row_remark_of(tables, a, claim);
    message += (message.empty() || remark.empty() ? "" : " ") + remark;
  }
  row.cell(verdict.next);
  row.cell(message);
  row.cells(carried);
  return row.take();
}

RowResult mixed_row(const BatchShared& shared, const PieceRead& read, const std::vector<std::string>& carried)
{
  const Analysis a = weigh_up_mixed(shared.mixtures, read.piece, shared.options.verdict.level);
  RowResult result;
  result.text =
      shared.options.json ? json_of_mixed(shared.prepared.tables(), read.piece, a, -1) : mixed_text(read, a, carried);
  if (shared.content) {
    result.jar = mixed_jar_row_of(shared.prepared.tables(), *shared.content, read.piece, a);
  }
  return result;
}

bool is_known(const Piece& piece)
{
  return piece.reference_density_g_cm3 || piece.reference_mass_g;
}

RowResult piece_row(const BatchShared& shared, const PieceRead& read, const ReadRow& row)
{
  const Tables& tables = shared.prepared.tables();
  const Piece& piece = read.piece;
  const RowContext context = shared.contexts.get(piece.context);
  std::vector<std::string> of_sitting;
  if (shared.sitting) {
    of_sitting = remarks_on_row(*shared.sitting, row.line, piece.weighing);
  }
  RowResult result;
  if (shared.options.json) {
    VerdictOptions options = shared.options.verdict;
    options.mix = shared.mix.get();
    options.row = row_of_piece(shared, row.line);
    options.lot = piece.lot;
    const bool sized = piece.weighing.area_cm2 || piece.layer_mm;  // then its own coats and faces are drawn up
    Verdict verdict = sized ? verdict_of(tables, piece, options) : verdict_of(shared.prepared, piece, options);
    verdict.warnings.insert(verdict.warnings.end(), of_sitting.begin(), of_sitting.end());
    ReportHeading heading{std::string(program_version()), "", read.assumed};
    if (shared.mix) {
      heading.assumed.emplace_back("what is common where it was found was learned from the rows of this jar (--learn)");
    }
    result.text = json_report(tables, piece, verdict, heading, -1);
    if (!shared.content) {
      return result;
    }
  }
  RowVerdict verdict = row_verdict_of(shared, context, piece, row_of_piece(shared, row.line));
  verdict.of_sitting = std::move(of_sitting);
  if (!shared.options.json) {
    result.text = text_of_row(tables, piece, verdict, row.carried);
  }
  if (shared.content && !counts_in_jar(shared, piece, row.line)) {
    result.jar.emplace();
    result.jar->known = is_known(piece);
    result.jar->known_unfit = verdict.reference && verdict.reference->state == BenchState::not_trustworthy;
    result.jar->repeat = !result.jar->known;
  } else if (shared.content) {
    result.jar = jar_row_of(tables, *shared.content, piece, verdict.analysis, context.background(), verdict.plausible,
                            verdict.silver_each, verdict.pile);
    result.jar->lot = piece.lot;
    result.jar->next = verdict.next;
    result.jar->next_effort = effort_of(tables, verdict.next);
    if (shared.sitting) {
      const SharedSensitivity j = sensitivity_of(*shared.sitting, piece.weighing, row.line);
      const double slope = slope_of_silver(verdict, context.background());
      result.jar->sensitivity = verdict.silver_mean * j.mass + slope * verdict.mass.g * j.density;
    }
  }
  return result;
}

std::string trouble_of(const std::exception& error)
{
  const bool memory = dynamic_cast<const std::bad_alloc*>(&error) != nullptr;
  return memory ? "there was not enough memory for it; end other programs, raise the limit (ulimit -v) or give fewer "
                  "--threads, and give this row once more"
                : error.what();
}

}  // namespace

const std::vector<std::string>& result_columns()
{
  static const std::vector<std::string> columns = {
      "piece",      "status",      "density",  "density_low",  "density_high",  "material", "build",
      "over",       "probability", "solid",    "plated",       "inlay",         "other",    "ag_fraction",
      "ag_low",     "ag_high",     "silver_g", "silver_g_low", "silver_g_high", "gold_g",   "palladium_g",
      "platinum_g", "pile",        "cautions", "claim_key",    "claim_verdict", "next",     "message"};
  return columns;
}

long row_of_piece(const BatchShared& shared, long line)
{
  return shared.sitting ? standing_row_of(*shared.sitting, line) : line;
}

bool counts_in_jar(const BatchShared& shared, const Piece& piece, long line)
{
  return !is_known(piece) && row_of_piece(shared, line) == line;
}

PieceRead piece_of_row(const BatchShared& shared, const ParsedRow& row)
{
  if (!row.trouble.empty()) {
    throw Error(ErrorCode::bad_csv, row.trouble);
  }
  PieceRead read = piece_from(shared.prepared.tables(), *row.text, row.decimals, row.decimals_in_liquid);
  doubt_points(*row.text, read);
  if (shared.sitting) {
    read.piece.weighing = corrected(*shared.sitting, read.piece.weighing, row.line);
  }
  return read;
}

ReadRow read_row(const BatchShared& shared, const ParsedRow& row)
{
  ReadRow read{(*row.text)[Field::piece], *row.carried, row.line, {}, {}};
  try {
    PieceRead piece = piece_of_row(shared, row);
    check(piece.piece.weighing);
    read.read = std::move(piece);
  } catch (const std::exception& error) {
    read.trouble = trouble_of(error);
  }
  return read;
}

RowResult result_row(const BatchShared& shared, const ReadRow& row)
{
  std::string trouble = row.trouble;
  if (row.read) {
    try {
      return row.read->mixed ? mixed_row(shared, *row.read, row.carried) : piece_row(shared, *row.read, row);
    } catch (const std::exception& error) {
      trouble = trouble_of(error);
    }
  }
  const std::string message = shortened(fmt::format("line {}: {}", row.line, trouble), longest_message);
  return {shared.options.json ? json_error(row.name, message) : error_row(row.name, message, row.carried), false, {}};
}

}  // namespace bilancetta
