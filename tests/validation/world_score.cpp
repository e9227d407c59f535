// The program held against a world that was not made from its tables: pieces of tests/validation/world.hpp are weighed
// there, put through the same inference as a batch row, and scored beside brute force that knows the world.
//
// usage: world_score [PIECES [SEED [KINDS]]]   prints a section of docs/validation.md; exit 1 when a bar is missed.
// With a third argument also a table by kind of piece.

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <map>
#include <string>
#include <vector>

#include "bilancetta/verdict.hpp"
#include "world_referee.hpp"

using namespace bilancetta;

namespace
{

constexpr double silver_from = 0.001;   // below this a piece holds none worth naming
constexpr double cadmium_shown = 0.02;  // the program's threshold

/// What the program says of one piece, and what the referee says.
struct Scored {
  world::Piece piece;
  Belief weighed, tested;  // without and with the four bench answers
  Belief referee_weighed, referee_tested;
};

Piece piece_of(const Tables& tables, const world::Piece& made)
{
  Piece piece;
  piece.context.place = made.place;
  piece.context.form = made.form;
  piece.weighing.shape_factor = place_called(tables, made.place).shape_factor.typical;
  piece.weighing.as_typed = true;  // light and hollow pieces look like a mix-up
  piece.weighing.scale = scale_of(made.reading.jeweller ? ScaleClass::jeweller : ScaleClass::pocket);
  piece.weighing.surroundings.wetting = made.reading.soaped ? Wetting::soaped : Wetting::dunked;
  piece.weighing.readings.dry_g = {made.reading.dry_g};
  piece.weighing.readings.rise_g = {made.reading.rise_g};
  return piece;
}

class Program
{
 public:
  Program() : prepared_(built_in_tables()) {}

  void say(Scored& scored)
  {
    Piece piece = piece_of(prepared_.tables(), scored.piece);
    Analysis analysis = weigh_up(piece.weighing, 0.95);
    scored.weighed = belief(analysis, piece);
    const world::Bench& bench = scored.piece.bench;
    Answers& answers = piece.context.answers;
    add_answer(prepared_.tables(), answers, "magnet", bench.magnet);
    add_answer(prepared_.tables(), answers, "skin-reagent", bench.skin_reagent);
    add_answer(prepared_.tables(), answers, "notch-reagent", bench.notch_reagent);
    add_answer(prepared_.tables(), answers, "sides", bench.sides);
    scored.tested = belief(analysis, piece);
  }

 private:
  Belief belief(Analysis& analysis, const Piece& piece)
  {
    const auto& members = prepared_.members(volume_each_cm3(analysis, piece.weighing));
    std::string key = piece.context.place;
    for (const auto& [test, answer] : piece.context.answers.given) {
      key += "\n" + answer;
    }
    const auto [known, fresh] = backgrounds_.try_emplace(key);
    if (fresh) {
      known->second = background_of(prepared_, members, piece.context);
    }
    hold_against(analysis, members, known->second, false);
    Belief belief;
    std::copy(analysis.builds.begin(), analysis.builds.end(), belief.builds.begin());
    for (const CautionShown& caution : cautions_of(prepared_.tables(), analysis, piece)) {
      belief.cadmium = caution.key == "cadmium" ? std::max(0.0, caution.probability) : belief.cadmium;
    }
    const ShareHistogram silver = silver_fraction_of(analysis, plausible_members(analysis, 0.998));
    belief.set_silver([&](double probability) { return silver.quantile(probability); });
    return belief;
  }
  Prepared prepared_;
  std::map<std::string, Background> backgrounds_;
};

/// Means over some of the pieces.
struct Tally {
  double pieces = 0, held = 0, interval = 0, ranked = 0, width = 0, width_tested = 0;
  double loss = 0, loss_tested = 0, cadmium_shown = 0;
  double referee_held = 0, referee_interval = 0, referee_ranked = 0, referee_loss = 0, referee_loss_tested = 0,
         referee_cadmium_shown = 0, referee_width = 0, referee_width_tested = 0;

  void add(const Scored& s)
  {
    const double truth = s.piece.silver;
    const int build = static_cast<int>(s.piece.build);
    // A batch row reads silver from 256 bins even in the root of the fraction: half a bin is its resolution.
    const double slack = std::sqrt(truth) / ShareTable::bins;
    const auto holds = [&](const Belief& b) { return b.low - slack <= truth && truth <= b.high + slack ? 1.0 : 0.0; };
    ++pieces;
    held += holds(s.weighed);
    interval += interval_score(s.weighed, truth);
    ranked += ranked_score(s.weighed, truth);
    width += s.weighed.high - s.weighed.low;
    width_tested += s.tested.high - s.tested.low;
    loss += log_loss(s.weighed, build);
    loss_tested += log_loss(s.tested, build);
    cadmium_shown += s.weighed.cadmium >= ::cadmium_shown ? 1 : 0;
    referee_held += holds(s.referee_weighed);
    referee_interval += interval_score(s.referee_weighed, truth);
    referee_ranked += ranked_score(s.referee_weighed, truth);
    referee_loss += log_loss(s.referee_weighed, build);
    referee_loss_tested += log_loss(s.referee_tested, build);
    referee_cadmium_shown += s.referee_weighed.cadmium >= ::cadmium_shown ? 1 : 0;
    referee_width += s.referee_weighed.high - s.referee_weighed.low;
    referee_width_tested += s.referee_tested.high - s.referee_tested.low;
  }
};

template <typename Chosen>
Tally tally_of(const std::vector<Scored>& all, const Chosen& chosen)
{
  Tally tally;
  for (const Scored& s : all) {
    if (chosen(s)) {
      tally.add(s);
    }
  }
  return tally;
}

std::vector<Scored> drawn_and_scored(int pieces, int of_referee, unsigned long long seed)
{
  world::Random random(seed);
  std::vector<Scored> all(pieces);
  std::map<std::pair<std::string, int>, std::vector<Scored*>> groups;
  for (Scored& s : all) {
    s.piece = world::draw_piece(random);
    groups[{s.piece.place, world::Referee::mass_class(s.piece.reading.dry_g)}].push_back(&s);
  }
  Program program;
  world::AnswerCounts counts;
  for (auto& [group, members] : groups) {
    const world::Referee referee(group.first, group.second, of_referee, counts, random);
    for (Scored* s : members) {
      program.say(*s);
      s->referee_weighed = referee.belief(s->piece.reading, nullptr);
      s->referee_tested = referee.belief(s->piece.reading, &s->piece.bench);
    }
  }
  return all;
}

/// Prints lines of the table and remembers whether a bar was missed.
class Bars
{
 public:
  void line(const char* what, const std::string& wanted, const std::string& reached, const std::string& referee,
            bool met)
  {
    fmt::print("| {} | {} | {}{} | {} |\n", what, wanted, reached, met ? "" : ", missed", referee);
    met_ = met_ && met;
  }
  [[nodiscard]] bool met() const { return met_; }

 private:
  bool met_ = true;
};

void silver_lines(Bars& bars, const char* which, const Tally& t)
{
  const auto title = [&](const char* what) { return fmt::format("{}, {}", what, which); };
  const double held = t.held / t.pieces;
  bars.line(title("95 % band of the silver fraction holds").c_str(), "at least 93 %",
            fmt::format("{:.1f} %", 100 * held), fmt::format("{:.1f} %", 100 * t.referee_held / t.pieces),
            held >= 0.93);
  const auto ratio = [&](const char* what, double own, double best) {
    bars.line(title(what).c_str(), "at most 1.25 times the referee's",
              fmt::format("{:.4f}, {:.2f} times", own / t.pieces, own / best), fmt::format("{:.4f}", best / t.pieces),
              own <= 1.25 * best);
  };
  ratio("mean interval score", t.interval, t.referee_interval);
  ratio("mean ranked probability score", t.ranked, t.referee_ranked);
}

double base_rate_loss(const std::vector<Scored>& all)
{
  double loss = 0.0;
  for (int build = 0; build < 4; ++build) {
    const double share =
        static_cast<double>(std::count_if(all.begin(), all.end(),
                                          [&](const Scored& s) { return static_cast<int>(s.piece.build) == build; })) /
        static_cast<double>(all.size());
    loss -= share > 0.0 ? share * std::log(share) : 0.0;
  }
  return loss;
}

bool print_bars(const std::vector<Scored>& all)
{
  const Tally whole = tally_of(all, [](const Scored&) { return true; });
  const Tally silver = tally_of(all, [](const Scored& s) { return s.piece.silver >= silver_from; });
  const Tally bare = tally_of(all, [](const Scored& s) { return s.piece.silver < silver_from; });
  const Tally cadmium = tally_of(all, [](const Scored& s) { return s.piece.cadmium >= world::cadmium_from; });
  const Tally free = tally_of(all, [](const Scored& s) { return s.piece.cadmium < world::cadmium_from; });
  fmt::print("{} hold silver, {} cadmium. Guessing builds by their shares costs {:.2f} nat.\n\n", silver.pieces,
             cadmium.pieces, base_rate_loss(all));
  fmt::print("| what | wanted | reached | referee |\n|---|---|---|---|\n");
  Bars bars;
  silver_lines(bars, "pieces with silver", silver);
  silver_lines(bars, "pieces without", bare);
  const auto at_most = [&](const char* what, double bar, double own, double best) {
    bars.line(what, fmt::format("at most {}", bar), fmt::format("{:.3f}", own), fmt::format("{:.3f}", best),
              own <= bar);
  };
  at_most("log loss of the build, nat", 0.75, whole.loss / whole.pieces, whole.referee_loss / whole.pieces);
  at_most("the same with four bench answers", 0.25, whole.loss_tested / whole.pieces,
          whole.referee_loss_tested / whole.pieces);
  at_most("width of the silver band with them, by that without", 0.5, whole.width_tested / whole.width,
          whole.referee_width_tested / whole.referee_width);
  const double warned = cadmium.cadmium_shown / cadmium.pieces;
  const double needless = free.cadmium_shown / free.pieces;
  bars.line("pieces with cadmium shown its caution", "at least 98 %", fmt::format("{:.1f} %", 100 * warned),
            fmt::format("{:.1f} %", 100 * cadmium.referee_cadmium_shown / cadmium.pieces), warned >= 0.98);
  bars.line("pieces without shown it", "at most 65 %", fmt::format("{:.1f} %", 100 * needless),
            fmt::format("{:.1f} %", 100 * free.referee_cadmium_shown / free.pieces), needless <= 0.65);
  return bars.met();
}

template <typename KeyOf>
void print_table(const std::vector<Scored>& all, const KeyOf& key_of)
{
  std::map<std::string, Tally> tallies;
  for (const Scored& s : all) {
    tallies[key_of(s.piece)].add(s);
  }
  std::vector<std::pair<double, std::string>> order;
  for (const auto& [key, t] : tallies) {
    order.emplace_back(t.referee_loss_tested - t.loss_tested + t.referee_loss - t.loss, key);
  }
  std::sort(order.begin(), order.end());
  fmt::print(
      "\n| kind | pieces | held | referee | interval | referee | ranked | referee | loss | referee | tested | referee "
      "| cadmium |\n|---|---|---|---|---|---|---|---|---|---|---|---|---|\n");
  for (const auto& [worth, key] : order) {
    const Tally& t = tallies[key];
    const double n = t.pieces;
    fmt::print(
        "| {} | {} | {:.2f} | {:.2f} | {:.3f} | {:.3f} | {:.4f} | {:.4f} | {:.2f} | {:.2f} | {:.2f} | {:.2f} | "
        "{:.2f} |\n",
        key, n, t.held / n, t.referee_held / n, t.interval / n, t.referee_interval / n, t.ranked / n,
        t.referee_ranked / n, t.loss / n, t.referee_loss / n, t.loss_tested / n, t.referee_loss_tested / n,
        t.cadmium_shown / n);
  }
}

}  // namespace

int main(int argc, char** argv)
{
  const int pieces = argc > 1 ? std::atoi(argv[1]) : 5000;
  const unsigned long long seed = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 1;
  const int of_referee = pieces >= 2000 ? 200000 : 20000;
  const std::vector<Scored> all = drawn_and_scored(pieces, of_referee, seed);
  fmt::print("{} pieces, seed {}; the referee weighs {} pieces of each place and each class of mass. ", pieces, seed,
             of_referee);
  const bool met = print_bars(all);
  if (argc > 3) {
    print_table(all, [](const world::Piece& p) { return p.place; });
    print_table(all, [](const world::Piece& p) {
      return std::string(world::build_names[static_cast<std::size_t>(p.build)]) + " " + p.kind;
    });
  }
  return met ? 0 : 1;
}
