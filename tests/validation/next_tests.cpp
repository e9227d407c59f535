// Does the next test keep its promise? Pieces are drawn from the prior, weighed on simulated scales, and each step that
// is proposed is then made: the answer of a bench test is drawn from the chances of the tables, the sharper weighing is
// simulated. The mean drop of the question's entropy must be the promised one (Lindley 1956: expected information is
// the mean drop).
//
// usage: next_tests [PIECES]      prints a section of docs/validation.md; exit 1 if a promise is not kept

#include <fmt/core.h>

#include <cstdlib>
#include <map>
#include <optional>

#include "bilancetta/next_test.hpp"
#include "bilancetta/remedy.hpp"
#include "simulated_weighing.hpp"

using namespace bilancetta;

namespace
{

struct Promise {
  double promised = 0.0, happened = 0.0, squares = 0.0;
  int pieces = 0;

  void add(double bits, double drop)
  {
    promised += bits;
    happened += drop;
    squares += (drop - bits) * (drop - bits);
    ++pieces;
  }
  [[nodiscard]] double mean_promised() const { return promised / pieces; }
  [[nodiscard]] double mean_happened() const { return happened / pieces; }
  // Standard error of the mean difference.
  [[nodiscard]] double error() const
  {
    const double mean = (happened - promised) / pieces;
    return std::sqrt(std::max(squares / pieces - mean * mean, 0.0) / pieces);
  }
};

// Promises of bench tests are exact up to chance. Those of weighings use first-order uncertainties and a Gaussian
// for what is added: a tenth of the promise, or 0.01 bits, is allowed besides (judgement).
bool kept(const Promise& p, bool weighing)
{
  const double allowed = weighing ? std::max(0.1 * p.mean_promised(), 0.01) : 0.002;
  return std::abs(p.mean_happened() - p.mean_promised()) <= 3.5 * p.error() + allowed;
}

class Trial
{
 public:
  explicit Trial(const Prepared& prepared) : prepared_(&prepared), tables_(&prepared.tables()) {}

  void try_piece(const Context& context, const Scale& scale, double each_g, Wetting wetting, Question question)
  {
    const auto& members = prepared_->members(each_g / 9.0);
    const Background background = background_of(*prepared_, members, context);
    const std::size_t truth = simulation_.index(background.prior);
    const double density = simulation_.density_of(members[truth]->hypothesis);
    if (density < 1.5 || density > 22.0) {
      return;
    }
    const Weighing weighing = simulation_.weighed(scale, each_g, density, 1, 1, wetting);
    const Analysis now = analysed(weighing, members, background);
    const std::vector<int> plausible = plausible_members(now);
    if (plausible.empty() || now.read_share <= 0.0) {
      return;
    }
    const double doubt = doubt_of(now, plausible, question, nullptr);
    const auto doubt_left = [&](const Analysis& then) {
      return doubt_of(then, plausible_members(then), question, nullptr);
    };
    const auto proposals = proposals_for(*tables_, members, context.answers, plausible);
    for (const NextTest& test : next_tests_of(now, background, proposals, plausible, question, nullptr, true)) {
      Context answered = context;
      add_answer(*tables_, answered.answers, test.key, drawn_answer(test.key, members[truth]->hypothesis));
      promises_[test.key].add(
          test.bits, doubt - doubt_left(analysed(weighing, members, background_of(*prepared_, members, answered))));
    }
    for (const NextTest& step : next_weighings_of(now, plausible, question, nullptr, weighing)) {
      for (const SharperWeighing& sharper : sharper_weighings(weighing)) {
        if (sharper.key == step.key) {
          const Weighing again = simulation_.weighed(sharper.weighing.scale, each_g, density, sharper.weighing.count,
                                                     static_cast<int>(sharper.weighing.readings.rise_g.size()),
                                                     sharper.weighing.surroundings.wetting);
          weighings_[step.key].add(step.bits, doubt - doubt_left(analysed(again, members, background)));
        }
      }
    }
  }

  [[nodiscard]] bool report() const
  {
    fmt::print("| step | pieces | promised | happened | +- |\n|---|---|---|---|---|\n");
    bool good = true;
    for (const auto* all : {&promises_, &weighings_}) {
      for (const auto& [key, p] : *all) {
        const bool own = kept(p, all == &weighings_);
        good = good && own;
        fmt::print("| {} | {} | {:.4f} | {:.4f} | {:.4f}{} |\n", key, p.pieces, p.mean_promised(), p.mean_happened(),
                   p.error(), own ? "" : " not kept");
      }
    }
    return good;
  }

 private:
  static Analysis analysed(const Weighing& weighing, const Members& members, const Background& background)
  {
    Analysis a = weigh_up(weighing, 0.95);
    hold_against(a, members, background, false);
    return a;
  }

  std::string drawn_answer(const std::string& key, const Hypothesis& truth)
  {
    const BenchTest& test = test_called(*tables_, key);
    std::vector<std::string> answers = test.answers;
    if (answers.empty()) {  // a reading, even in its logarithm
      for (int step = 0; 0.1 * std::pow(1.05, step) < 110.0; ++step) {
        answers.push_back(fmt::format("{:.4g}", 0.1 * std::pow(1.05, step)));
      }
    }
    std::vector<double> chances;
    chances.reserve(answers.size());
    for (const std::string& answer : answers) {
      Answers alone;
      add_answer(*tables_, alone, key, answer);
      chances.push_back(BenchOdds(*tables_, alone).likelihood(truth));
    }
    return answers[simulation_.index(chances)];
  }

  const Prepared* prepared_;
  const Tables* tables_;
  Simulation simulation_{4711};
  std::map<std::string, Promise> promises_, weighings_;
};

}  // namespace

int main(int argc, char** argv)
{
  const int pieces = argc > 1 ? std::atoi(argv[1]) : 4000;
  const Prepared prepared(built_in_tables());
  Trial trial(prepared);
  Simulation sizes(12);
  const char* const places[] = {"unknown", "breaker", "relay", "tableware"};
  const Question questions[] = {Question::build, Question::silver, Question::cadmium, Question::precious};
  for (int i = 0; i < pieces; ++i) {
    Context context;
    context.place = places[i % 4];
    context.form = Form::unsure;
    const Scale scale = scale_of(i / 4 % 2 == 0 ? ScaleClass::pocket : ScaleClass::jeweller);
    const double each_g = std::exp(sizes.uniform(std::log(0.5), std::log(20.0)));
    const Wetting wetting = i / 32 % 2 == 0 ? Wetting::soaped : Wetting::dunked;
    trial.try_piece(context, scale, each_g, wetting, questions[i / 8 % 4]);
  }
  fmt::print(
      "Bits on the question (build, silver, cadmium and other precious metals in turn) at four places, pocket and "
      "jeweller's scales, 0.5 to 20 g, soaped or just dunked.\n\n");
  return trial.report() ? 0 : 1;
}
