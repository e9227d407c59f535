// The program held against a world that was not made from its tables: pieces of tests/validation/world.hpp are weighed
// there, put through the same inference as a batch row, and scored beside brute force that knows the world.
//
// usage: world_score [PIECES [SEED [kinds]]]   prints a section of docs/validation.md; exit 1 when a bar is missed.
//        world_score check PIECES SEED        the same with few pieces, but exits 1 only when a floor is missed
//
// The bars are what is wanted; the floors stop what is reached from being lost again, with room for the noise of some
// hundred pieces. `kinds` adds a table by place and by kind of piece.

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
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

/// What program and referee say of one piece.
struct Scored {
  world::Piece piece;
  Belief weighed, tested;  // without and with the four bench answers
  Belief referee_weighed, referee_tested;
};

Piece piece_of(const Tables& tables, const world::Piece& made)
{
  Piece piece;
  piece.context.place = made.place;
  piece.context.form = made.form == "unsure" ? Form::unsure : Form::solid;
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
    const auto& members = prepared_.members(coat_volume_cm3(analysis, piece.weighing));
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
    // A batch row reads silver from 256 bins even in the root of the fraction.
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

// Leaves out pieces so odd that none of the referee's explains their readings.
std::vector<Scored> drawn_and_scored(int pieces, int of_referee, unsigned long long seed)
{
  world::Random random(seed);
  std::map<std::pair<std::string, int>, std::vector<Scored>> groups;
  for (int i = 0; i < pieces; ++i) {
    const auto piece = world::draw_piece(random);
    groups[{piece.place, world::Referee::mass_class(piece.reading.dry_g)}].emplace_back().piece = piece;
  }
  Program program;
  world::AnswerCounts counts;
  std::vector<Scored> scored;
  for (auto& [group, members] : groups) {
    const world::Referee referee(group.first, group.second, of_referee, counts, random);
    std::erase_if(members, [&](const Scored& s) { return !referee.explains(s.piece.reading); });
    for (Scored& s : members) {
      program.say(s);
      s.referee_weighed = referee.belief(s.piece.reading, nullptr);
      s.referee_tested = referee.belief(s.piece.reading, &s.piece.bench);
    }
    scored.insert(scored.end(), members.begin(), members.end());
  }
  return scored;
}

/// Prints lines of the table and remembers which bars and floors were missed.
class Bars
{
 public:
  /// At most `bar` is wanted, at most `floor` is asked of a check.
  void at_most(const std::string& what, double bar, double floor, double own, double referee)
  {
    print(what, fmt::format("at most {:.2f}", bar), fmt::format("{:.3f}", own), fmt::format("{:.3f}", referee),
          own <= bar);
    floors_met_ = floors_met_ && own <= floor;
  }
  void share_at_least(const std::string& what, double bar, double floor, double own, double referee)
  {
    print(what, fmt::format("at least {:.0f} %", 100 * bar), percent(own), percent(referee), own >= bar);
    floors_met_ = floors_met_ && own >= floor;
  }
  void share_at_most(const std::string& what, double bar, double own, double referee)
  {
    print(what, fmt::format("at most {:.0f} %", 100 * bar), percent(own), percent(referee), own <= bar);
    floors_met_ = floors_met_ && own <= bar;
  }
  void ratio(const std::string& what, double floor, double own, double referee)
  {
    print(what, "at most 1.25 times the referee's", fmt::format("{:.4f}, {:.2f} times", own, own / referee),
          fmt::format("{:.4f}", referee), own <= 1.25 * referee);
    floors_met_ = floors_met_ && own <= floor * referee;
  }
  [[nodiscard]] bool bars_met() const { return bars_met_; }
  [[nodiscard]] bool floors_met() const { return floors_met_; }

 private:
  static std::string percent(double share) { return fmt::format("{:.1f} %", 100 * share); }
  void print(const std::string& what, const std::string& wanted, const std::string& reached, const std::string& referee,
             bool met)
  {
    fmt::print("| {} | {} | {}{} | {} |\n", what, wanted, reached, met ? "" : ", missed", referee);
    bars_met_ = bars_met_ && met;
  }
  bool bars_met_ = true, floors_met_ = true;
};

void silver_lines(Bars& bars, const std::string& which, const Tally& t)
{
  const double n = t.pieces;
  bars.share_at_least("95 % band of the silver fraction holds, " + which, 0.93, 0.91, t.held / n, t.referee_held / n);
  bars.ratio("mean interval score, " + which, 1.8, t.interval / n, t.referee_interval / n);
  bars.ratio("mean ranked probability score, " + which, 1.5, t.ranked / n, t.referee_ranked / n);
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

Bars print_bars(const std::vector<Scored>& all)
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
  const double n = whole.pieces;
  bars.at_most("log loss of the build, nat", 0.75, 0.8, whole.loss / n, whole.referee_loss / n);
  bars.at_most("the same with four bench answers", 0.25, 0.35, whole.loss_tested / n, whole.referee_loss_tested / n);
  bars.at_most("width of the silver band with them, by that without", 0.5, 0.75, whole.width_tested / whole.width,
               whole.referee_width_tested / whole.referee_width);
  bars.share_at_least("pieces with cadmium shown its caution", 0.98, 0.95, cadmium.cadmium_shown / cadmium.pieces,
                      cadmium.referee_cadmium_shown / cadmium.pieces);
  bars.share_at_most("pieces without shown it", 0.65, free.cadmium_shown / free.pieces,
                     free.referee_cadmium_shown / free.pieces);
  return bars;
}

template <typename KeyOf>
void print_table(const std::vector<Scored>& all, const KeyOf& key_of)
{
  std::map<std::string, Tally> tallies;
  for (const Scored& s : all) {
    tallies[key_of(s.piece)].add(s);
  }
  std::vector<std::pair<double, std::string>> order;
  order.reserve(tallies.size());
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
  const bool check = argc > 1 && std::string(argv[1]) == "check";
  const std::vector<std::string> words(argv + (check ? 2 : 1), argv + argc);
  const int pieces = words.empty() ? 5000 : std::stoi(words[0]);
  const unsigned long long seed = words.size() > 1 ? std::stoull(words[1]) : 3160916654ULL;
  const int of_referee = check ? 20000 : 200000;
  const std::vector<Scored> all = drawn_and_scored(pieces, of_referee, seed);
  fmt::print("{} pieces and {} left out, seed {}; the referee weighs {} pieces of each place and each class of mass. ",
             all.size(), pieces - static_cast<int>(all.size()), seed, of_referee);
  const Bars bars = print_bars(all);
  if (words.size() > 2) {
    const auto build_of = [](const world::Piece& p) { return world::build_names[static_cast<std::size_t>(p.build)]; };
    print_table(all, [](const world::Piece& p) { return p.place; });
    print_table(all, [&](const world::Piece& p) { return std::string(build_of(p)) + " " + p.kind; });
  }
  return (check ? bars.floors_met() : bars.bars_met()) ? 0 : 1;
}
