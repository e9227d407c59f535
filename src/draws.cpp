#include "draws.hpp"

#include <algorithm>
#include <cmath>

namespace bilancetta
{

namespace
{

// How many lines, and draws along each.
struct LineCount {
  int lines, nodes;
};

LineCount lines_of(const Hypothesis& hypothesis, bool fine)
{
  if (hypothesis.kind == Kind::open_mix) {
    return {4096, 40};
  }
  switch (hypothesis.variables) {
    case 0:
      return {1, 24};
    case 1:
      return {1, 512};
    case 2:
      return {96, 40};
    case 3:
      return fine ? LineCount{most_lines, 32} : LineCount{144, 28};
    case 4:
    case 5:
      return fine ? LineCount{700, 32} : LineCount{hypothesis.kind == Kind::joined ? 576 : 288, 20};
    default:
      return fine ? LineCount{most_lines, 32} : LineCount{288, 20};
  }
}

// Ends of the lines, in standard deviations. Where layers or voids fill nearly all of a piece the density hardly moves
// any more: odds of a thousandth lie out here.
constexpr double reach = 5.0;

double step_along(const Hypothesis& hypothesis, bool fine)
{
  return 2.0 * reach / (lines_of(hypothesis, fine).nodes - 2);
}

// Where a line lies on one of the axes across, and how much denser N(0, 1) is there than the lines are.
struct Across {
  double at, weight;
};

Across across(const Hypothesis& hypothesis, bool fine, int line, int k)
{
  const bool named = hypothesis.kind != Kind::open_mix;
  if (k == 1 && named && (!fine || hypothesis.variables == 2)) {
    // On even lines a normal distribution is integrated nearly without error.
    const double between = 2.0 * reach / lines_of(hypothesis, fine).lines;
    const double at = -reach + (line + 0.5) * between;
    return {at, 2.0 * reach / std::sqrt(2.0 * M_PI) * std::exp(-0.5 * at * at)};
  }
  const double widening = named && (k == 1 || (fine && hypothesis.variables == 3)) ? 2.0 : 1.2;
  const double drawn = bank_for(hypothesis).at(line)[k];
  return {widening * drawn, widening * std::exp(-0.5 * drawn * drawn * (widening * widening - 1.0))};
}

// Where the first draw of each line lies: lines are shifted by a part of a step against each other.
std::vector<double> line_starts(const Hypothesis& hypothesis, bool fine)
{
  std::vector<double> starts;
  for (int line = 0; line < lines_of(hypothesis, fine).lines; ++line) {
    const double shift = 0.5 * std::erfc(-bank_for(hypothesis).at(line)[0] * M_SQRT1_2);
    starts.push_back(-reach - shift * step_along(hypothesis, fine));
  }
  return starts;
}

// Something for each number of variables, apart for the open mix, joined parts and fine draws: made when first asked
// for.
template <typename Thing, typename Make>
const Thing& one_for_each(const Hypothesis& hypothesis, bool fine, Make make)
{
  static const auto up_to = [](Make how, Kind kind, int variables, bool finely) {
    std::vector<Thing> all;
    Hypothesis h;
    h.kind = kind;
    for (h.variables = 0; h.variables <= variables; ++h.variables) {
      all.push_back(how(h, finely));
    }
    return all;
  };
  if (hypothesis.kind == Kind::open_mix) {
    static const auto open = up_to(make, Kind::open_mix, open_mix_variables, false);
    return open[hypothesis.variables];
  }
  if (fine) {
    static const auto finer = up_to(make, Kind::solid, max_variables, true);
    return finer[hypothesis.variables];
  }
  if (hypothesis.kind == Kind::joined) {
    static const auto joined = up_to(make, Kind::joined, max_variables, false);
    return joined[hypothesis.variables];
  }
  static const auto named = up_to(make, Kind::solid, max_variables, false);
  return named[hypothesis.variables];
}

const std::vector<double>& starts_of(const Hypothesis& hypothesis, bool fine)
{
  return one_for_each<std::vector<double>>(hypothesis, fine,
                                           [](const Hypothesis& h, bool f) { return line_starts(h, f); });
}

}  // namespace

Draws::Draws(const Hypothesis& hypothesis, bool fine)
    : hypothesis_(&hypothesis),
      fine_(fine),
      starts_(&starts_of(hypothesis, fine)),
      nodes_(lines_of(hypothesis, fine).nodes),
      step_(step_along(hypothesis, fine)),
      axes_(hypothesis)
{
}

void Draws::go_to(int line)
{
  if (line != line_) {
    line_ = line;
    base_ = {};
    for (int k = 1; k < hypothesis_->variables; ++k) {
      base_[k] = across(*hypothesis_, fine_, line, k).at;
    }
    axes_.turn(base_);
  }
}

Outcome<double> Draws::outcome(int draw, double along)
{
  const int line = draw / nodes_;
  go_to(line);
  const double t = (*starts_)[line] + step_ * (draw - line * nodes_ + along);
  double z[max_variables];
  for (int k = 0; k < max_variables; ++k) {
    z[k] = base_[k] + t * axes_.way()[k];
  }
  return hypothesis_->evaluate(z);
}

Outcome<Four> Draws::outcomes(int first)
{
  const int line = first / nodes_;
  go_to(line);
  const double start = (*starts_)[line] + step_ * (first - line * nodes_);
  const Four t = static_cast<float>(start) + static_cast<float>(step_) * Four(0.0F, 1.0F, 2.0F, 3.0F);
  Four z[max_variables];
  for (int k = 0; k < max_variables; ++k) {
    z[k] = static_cast<float>(base_[k]) + t * static_cast<float>(axes_.way()[k]);
  }
  return hypothesis_->evaluate(z);
}

namespace
{

// The mass of each draw in so many parts of its step; nothing if it is negligible.
std::vector<float> draw_weights(const Hypothesis& h, bool fine, int parts)
{
  constexpr double negligible = 5e-6;  // of a mean draw's mass
  const LineCount count = lines_of(h, fine);
  // Masses even within parts widen a normal distribution by a sixth of a squared part.
  const double step = step_along(h, fine) / parts;
  const double per_sd = 1.0 / std::sqrt(1.0 - step * step / 6.0);
  const std::vector<double> starts = line_starts(h, fine);
  std::vector<float> weights;
  for (int line = 0; line < count.lines; ++line) {
    double of_line = 1.0;
    for (int k = 1; k < h.variables; ++k) {
      of_line *= across(h, fine, line, k).weight;
    }
    const auto below = [&](int part) { return 0.5 * std::erfc(-per_sd * (starts[line] + step * part) * M_SQRT1_2); };
    double passed = below(0);
    for (int node = 0; node < count.nodes; ++node) {
      double to[line_parts + 1] = {passed};
      for (int part = 1; part <= parts; ++part) {
        to[part] = node + 1 == count.nodes ? passed : below(node * parts + part);
      }
      const bool counts = of_line * (to[parts] - passed) > negligible / count.nodes;
      for (int part = 0; part < parts; ++part) {
        weights.push_back(counts ? static_cast<float>(of_line * (to[part + 1] - to[part])) : 0.0F);
      }
      passed = to[parts];
    }
  }
  return weights;
}

}  // namespace

const std::vector<float>& draw_weights_of(const Hypothesis& hypothesis, bool fine)
{
  return one_for_each<std::vector<float>>(hypothesis, fine,
                                          [](const Hypothesis& h, bool f) { return draw_weights(h, f, 1); });
}

const std::vector<float>& part_weights_of(const Hypothesis& hypothesis)
{
  return one_for_each<std::vector<float>>(hypothesis, false,
                                          [](const Hypothesis& h, bool f) { return draw_weights(h, f, line_parts); });
}

}  // namespace bilancetta
