#include "line_set.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <mutex>

#include "normal_bank.hpp"
#include "normal_table.hpp"

namespace bilancetta
{

namespace
{

// Ends of the lines, in standard deviations. Where layers or voids fill nearly all of a piece the density hardly moves
// any more: odds of a thousandth lie out here.
constexpr double reach = 5.0;

struct Lattice {
  int points;
  std::array<int, max_variables> generator;
};
constexpr std::array<Lattice, 3> lattices = {{{149, {1, 44, 36, 55, 29, 63, 49, 70}},
                                              {307, {1, 119, 42, 135, 108, 48, 56, 128}},
                                              {1499, {1, 622, 164, 578, 525, 389, 148, 319}}}};

// Kinds that are drawn alike.
enum class Sort { open_mix, fine, inlaid, joined, coated, hollow, solid };
constexpr int sorts = 7;

Sort sort_of(const Hypothesis& h, bool fine)
{
  if (h.kind == Kind::open_mix) {
    return Sort::open_mix;
  }
  if (fine && h.variables > 1) {
    return Sort::fine;
  }
  switch (h.kind) {
    case Kind::inlay:
      return Sort::inlaid;
    case Kind::joined:
      return Sort::joined;
    case Kind::plated:
      return Sort::coated;
    case Kind::hollow:
      return Sort::hollow;
    default:
      return Sort::solid;
  }
}

struct LineCount {
  int lines, nodes;
};

// As few as keep to brute force (tests/validation/against_brute_force.cpp), since tabulating takes most of a start.
LineCount count_of(Sort sort, int variables)
{
  if (sort == Sort::open_mix) {
    return {4096, 40};
  }
  if (sort == Sort::fine) {
    return variables == 2 ? LineCount{400, 64} : LineCount{variables < 6 ? 2800 : banked, 32};
  }
  if (variables < 3) {
    constexpr std::array<LineCount, 3> few = {{{1, 24}, {1, 512}, {149, 24}}};
    return few[static_cast<std::size_t>(variables)];
  }
  // Near the density of one part two kinds of piece meet: with little of the other, or with as dense a mix of it.
  if (variables > (sort == Sort::joined ? 4 : sort == Sort::inlaid ? 5 : 6)) {
    return {1499, 20};
  }
  switch (sort) {
    case Sort::inlaid:
    case Sort::joined:
    case Sort::hollow:
      return {307, 28};
    case Sort::coated:
      return variables == 3 ? LineCount{149, 28} : LineCount{variables == 4 ? 149 : 307, 20};
    default:
      return variables == 3 ? LineCount{149, 28} : LineCount{307, 24};
  }
}

// Where a line lies on one of the axes across, and how much denser N(0, 1) is there than the lines are.
struct Across {
  double at, density;
};

Across widened(double drawn, double widening)
{
  return {widening * drawn, widening * std::exp(-0.5 * drawn * drawn * (widening * widening - 1.0))};
}

// What is odd in one way is odd where others are too; but many ways made wide together leave few lines in the middle.
double widening_for(int ways)
{
  return ways < 3 ? 1.8 : ways < 5 ? 1.5 : 1.3;
}

const NormalBank& bank_of(Sort sort, const LineSet& set)
{
  return bank_for(sort == Sort::open_mix ? Kind::open_mix : Kind::solid, set.ways + 1);
}

Across across_at(const LineSet& set, Sort sort, int line, int way)
{
  if (sort == Sort::open_mix || sort == Sort::fine) {
    const double drawn = bank_of(sort, set).at(line)[way + 1];
    const bool wide = way == 0 || set.ways == 2;
    return widened(drawn, sort == Sort::open_mix ? 1.2 : wide ? 2.0 : widening_for(set.ways));
  }
  if (way == 0) {
    // On even lines a normal distribution is integrated nearly without error.
    const double at = -reach + 2.0 * reach * lattice_coordinate(set.lines, line, 0);
    return {at, 2.0 * reach / std::sqrt(2.0 * M_PI) * std::exp(-0.5 * at * at)};
  }
  return widened(inverse_normal(lattice_coordinate(set.lines, line, way)), widening_for(set.ways));
}

// What part of a step a line is shifted by against others.
double shift_of(const LineSet& set, Sort sort, int line)
{
  if (sort == Sort::open_mix || sort == Sort::fine) {
    return 0.5 * std::erfc(-bank_of(sort, set).at(line)[0] * M_SQRT1_2);
  }
  return set.lines > 1 ? lattice_coordinate(set.lines, line, set.ways) : 0.5;
}

// Mass of N(0, 1) in each part of the steps from `first` to `end` of a line, to `use` in turn.
template <typename Use>
void for_each_mass(const LineSet& set, int line, LineSet::Filled steps, int parts, Use use)
{
  // Masses even within parts widen a normal distribution by a sixth of a squared part.
  const double part_of_step = set.step / parts;
  const double per_sd = 1.0 / std::sqrt(1.0 - part_of_step * part_of_step / 6.0);
  const NormalTable& normal = normal_table();
  const auto below = [&](int part) { return normal.up_to(per_sd * (set.starts[line] + part_of_step * part)); };
  double passed = below(steps.first * parts);
  for (int part = steps.first * parts; part < steps.end * parts; ++part) {
    const double next = below(part + 1);
    use(part, next - passed);
    passed = next;
  }
}

// The mass of each draw, and which draws of each line have any. The last draw of a line has none.
void weigh_draws(LineSet& set)
{
  constexpr double negligible = 5e-5;  // of a mean draw's mass
  set.weights.assign(static_cast<std::size_t>(set.lines) * set.nodes, 0.0F);
  for (int line = 0; line < set.lines; ++line) {
    LineSet::Filled filled;
    for_each_mass(set, line, {0, set.nodes - 1}, 1, [&](int node, double mass) {
      if (set.density[line] * mass > negligible / set.nodes) {
        set.weights[static_cast<std::size_t>(line) * set.nodes + node] = static_cast<float>(set.density[line] * mass);
        filled = {filled.end == 0 ? node : filled.first, node + 1};
      }
    });
    set.filled.push_back({line * set.nodes + filled.first, line * set.nodes + filled.end});
  }
}

// The same for each part of a step.
std::vector<float> weights_of_parts(const LineSet& set)
{
  constexpr int parts = LineSet::parts_of_step;
  std::vector<float> weights(set.weights.size() * parts, 0.0F);
  for (int line = 0; line < set.lines; ++line) {
    const int start = line * set.nodes;
    const LineSet::Filled steps{set.filled[line].first - start, set.filled[line].end - start};
    for_each_mass(set, line, steps, parts, [&](int part, double mass) {
      weights[static_cast<std::size_t>(start) * parts + part] = static_cast<float>(set.density[line] * mass);
    });
  }
  return weights;
}

LineSet made(Sort sort, int variables)
{
  const LineCount count = count_of(sort, variables);
  LineSet set;
  set.lines = count.lines;
  set.nodes = count.nodes;
  set.ways = std::max(variables - 1, 0);
  set.step = 2.0 * reach / (count.nodes - 2);
  for (int line = 0; line < set.lines; ++line) {
    set.starts.push_back(-reach - shift_of(set, sort, line) * set.step);
    double density = 1.0;
    for (int way = 0; way < set.ways; ++way) {
      const Across across = across_at(set, sort, line, way);
      set.across.push_back(across.at);
      density *= across.density;
    }
    set.density.push_back(density);
  }
  weigh_draws(set);
  if (sort != Sort::fine) {
    set.parts = weights_of_parts(set);
  }
  return set;
}

}  // namespace

double lattice_coordinate(int points, int i, int k)
{
  const auto lattice =
      std::find_if(lattices.begin(), lattices.end(), [&](const Lattice& l) { return l.points == points; });
  assert(lattice != lattices.end());
  return (i * lattice->generator[k] % points + 0.5) / points;
}

const LineSet& line_set_for(const Hypothesis& hypothesis, bool fine)
{
  // Made when first asked for, by whichever thread asks.
  struct Slot {
    std::once_flag once;
    LineSet set;
  };
  static std::array<std::array<Slot, max_variables + 1>, sorts> slots;
  const Sort sort = sort_of(hypothesis, fine);
  Slot& slot = slots[static_cast<std::size_t>(sort)][hypothesis.variables];
  std::call_once(slot.once, [&] { slot.set = made(sort, hypothesis.variables); });
  return slot.set;
}

}  // namespace bilancetta
