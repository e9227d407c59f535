#include "batch_row.hpp"

#include <fmt/core.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "bilancetta/error.hpp"
#include "bilancetta/report.hpp"
#include "csv.hpp"

namespace bilancetta
{

namespace
{

std::string rounded(double value, double u)
{
  return fmt::format("{:.{}f}", value, decimals_supported_by(u));
}

class RowWriter
{
 public:
  void cell(std::string_view text)
  {
    if (count_++ > 0) {
      row_ += ',';
    }
    append_cell(row_, text);
  }
  void number(double value, int decimals) { cell(fmt::format("{:.{}f}", value, decimals)); }
  void blanks(int how_many)
  {
    for (int i = 0; i < how_many; ++i) {
      cell("");
    }
  }
  [[nodiscard]] std::string take() { return std::move(row_); }

 private:
  std::string row_;
  int count_ = 0;
};

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
  for (const std::string& cell : carried) {
    row.cell(cell);
  }
  return row.take();
}

// A message may quote a cell of a megabyte; it is cut between two characters.
std::string shortened(std::string message)
{
  constexpr std::size_t most = 500;
  if (message.size() > most) {
    std::size_t end = most;
    while (end > most - 4 && (static_cast<unsigned char>(message[end]) & 0xC0U) == 0x80U) {
      --end;
    }
    message.resize(end);
    message += " ...";
  }
  return message;
}

// Grams of a precious metal other than silver: typical content of each plausible hypothesis, averaged.
double expected_grams(const Tables& tables, const Analysis& a, const std::vector<int>& plausible, const char* metal,
                      double grams)
{
  const int constituent = find_constituent(tables, metal);
  const double zero[max_variables] = {};
  double total = 0.0;
  for (const int i : plausible) {
    const Hypothesis& h = (*a.members)[i]->hypothesis;
    if (holds(h, constituent)) {
      total += a.posterior[i] * fraction_of(h, h.evaluate(zero), constituent);
    }
  }
  return total * grams;
}

void write_density(const Analysis& a, RowWriter& row)
{
  const DensitySummary& d = a.density;
  row.cell(rounded(d.value, d.standard_uncertainty));
  row.cell(rounded(d.low, d.standard_uncertainty));
  row.cell(rounded(d.high, d.standard_uncertainty));
}

void write_material(const Tables& tables, const Analysis& a, const std::vector<int>& plausible, RowWriter& row)
{
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

void write_silver(const Analysis& a, const std::vector<int>& plausible, double level, double grams, RowWriter& row)
{
  const Band silver = silver_fraction_of(a, plausible).band(level);
  for (const double fraction : {silver.median, silver.low, silver.high}) {
    row.number(fraction, 3);
  }
  for (const double fraction : {silver.median, silver.low, silver.high}) {
    row.cell(fmt::format("{:.3g}", fraction * grams));
  }
}

std::string next_key(const Tables& tables, const Analysis& a, const PieceRead& read, const SharedContext& context,
                     const std::vector<int>& plausible, const BatchOptions& options)
{
  if (pieces_to_pool(a, read.piece.weighing) > read.piece.weighing.count &&
      a.density.standard_uncertainty > 0.05 * a.density.value) {
    return "pool";
  }
  std::optional<Claim> claim;
  if (!read.piece.claim.empty()) {
    claim = claim_called(tables, read.piece.claim);
  }
  const Claim* claimed = claim ? &*claim : nullptr;
  const Question question = options.verdict.question.value_or(most_open_question(tables, a, plausible, claimed));
  const auto tests = next_tests_of(tables, a, context.background, context.proposals, plausible, question, claimed,
                                   marks_allowed(tables, read.piece, options.verdict.marks));
  return tests.empty() || tests.front().bits < 0.02 ? "" : tests.front().key;
}

// A row that has a density and nothing more to say.
std::string density_row(const PieceRead& read, const Analysis& a, const char* status, const std::string& message,
                        const std::vector<std::string>& carried)
{
  RowWriter row;
  row.cell(read.piece.name);
  row.cell(status);
  write_density(a, row);
  row.blanks(static_cast<int>(result_columns().size()) - 6);
  row.cell(message);
  for (const std::string& cell : carried) {
    row.cell(cell);
  }
  return row.take();
}

std::string piece_row(const Prepared& prepared, ContextCache& contexts, const BatchOptions& options,
                      const PieceRead& read, const std::vector<std::string>& carried)
{
  const Tables& tables = prepared.tables();
  const Piece& piece = read.piece;
  Analysis a = weigh_up(piece.weighing, options.verdict.level);
  if (read.mixed) {
    return density_row(read, a, "ok", "Unlike pieces weighed together: only their mean density is known.", carried);
  }
  const auto context = contexts.get(piece.context);
  hold_against(a, prepared.members(volume_each_cm3(a, piece.weighing)), context->background, false);
  // The last 0.2 % would cost much time and move no printed digit.
  const std::vector<int> plausible = plausible_members(a, 0.998);
  if (plausible.empty()) {
    return density_row(read, a, "unexplained", joined(warnings_of(a, piece), " "), carried);
  }
  const double grams = mass_g(displacement_of(piece.weighing.readings).dry_g, a.density.value, a.curve.air_g_cm3);
  RowWriter row;
  row.cell(piece.name);
  row.cell(a.explained ? "ok" : "unexplained");
  write_density(a, row);
  write_material(tables, a, plausible, row);
  write_silver(a, plausible, options.verdict.level, grams, row);
  for (const char* metal : {"Au", "Pd", "Pt"}) {
    row.cell(fmt::format("{:.2g}", expected_grams(tables, a, plausible, metal, grams)));
  }
  row.cell(context->background.hollow ? "undecided" : pile_of(tables, a));
  std::vector<std::string> keys;
  for (const CautionShown& caution : cautions_of(tables, a, piece)) {
    if (caution.probability >= 0.0) {
      keys.push_back(caution.key);
    }
  }
  row.cell(joined(keys, " "));
  if (piece.claim.empty()) {
    row.blanks(2);
  } else {
    const ClaimVerdict claim = claim_verdict_of(tables, a, piece);
    row.cell(claim.claim.key);
    row.cell(name_of(claim.result));
  }
  row.cell(next_key(tables, a, read, *context, plausible, options));
  std::vector<std::string> messages = warnings_of(a, piece);
  if (!a.explained) {
    messages.insert(messages.begin(), "Nothing in the tables explains this density.");
  }
  row.cell(joined(messages, " "));
  for (const std::string& cell : carried) {
    row.cell(cell);
  }
  return row.take();
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

std::shared_ptr<const SharedContext> ContextCache::get(const Context& context)
{
  std::string key = context.place + '\n' + context.form + (context.even_odds ? "\ne" : "\n") + context.answers.reagent +
                    (context.answers.reagent_checked ? "+" : "");
  for (const auto& [test, answer] : context.answers.given) {
    key.append("\n").append(test).append("=").append(answer);
  }
  {
    const std::lock_guard lock(mutex_);
    const auto match = known_.find(key);
    if (match != known_.end()) {
      return match->second;
    }
  }
  const auto& members = prepared_->members(0.1);
  std::vector<int> all(members.size());
  std::iota(all.begin(), all.end(), 0);
  auto made = std::make_shared<SharedContext>();
  made->background = background_of(*prepared_, members, context);
  made->proposals = proposals_for(prepared_->tables(), members, context.answers, all);
  const std::lock_guard lock(mutex_);
  if (known_.size() >= most) {
    known_.clear();
  }
  known_[key] = made;
  return made;
}

RowResult result_row(const Prepared& prepared, ContextCache& contexts, const BatchOptions& options,
                     const PieceText& text, int decimals, const std::string& where, const std::string& trouble,
                     const std::vector<std::string>& carried)
{
  try {
    if (!trouble.empty()) {
      throw Error(ErrorCode::bad_csv, trouble);
    }
    const PieceRead read = piece_from(prepared.tables(), text, decimals);
    if (options.json && read.mixed) {
      return {json_of_mixed(read.piece, weigh_up(read.piece.weighing, options.verdict.level), -1), true};
    }
    if (options.json) {
      const Verdict verdict = verdict_of(prepared, read.piece, options.verdict);
      return {
          json_report(prepared.tables(), read.piece, verdict, {std::string(program_version()), "", read.assumed}, -1),
          true};
    }
    return {piece_row(prepared, contexts, options, read, carried), true};
  } catch (const std::exception& error) {
    const std::string message = shortened(where + ": " + error.what());
    return {options.json ? json_error(text[Field::piece], message) : error_row(text[Field::piece], message, carried),
            false};
  }
}

}  // namespace bilancetta
