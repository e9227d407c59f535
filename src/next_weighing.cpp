#include <algorithm>
#include <array>
#include <cmath>

#include "bilancetta/density_grid.hpp"
#include "bilancetta/next_test.hpp"
#include "bilancetta/remedy.hpp"
#include "doubt.hpp"

namespace bilancetta
{

namespace
{

// Posterior mass of each answer to the question at each node of the grid; all together sum to 1.
std::array<GridFunction, 4> mass_by_answer(const Analysis& analysis, const std::vector<int>& listed,
                                           const std::vector<int>& classes)
{
  const GridFunction curve = weights_on_grid(analysis.curve);
  std::array<GridFunction, 4> mass;
  for (GridFunction& one : mass) {
    one = {curve.first, std::vector<float>(curve.value.size(), 0.0F)};
  }
  for (std::size_t k = 0; k < listed.size(); ++k) {
    const int i = listed[k];
    const GridFunction& predicted = (*analysis.members)[i]->predicted;
    const int from = std::max(curve.first, predicted.first);
    const int to = std::min(curve.last(), predicted.last());
    const auto factor = static_cast<float>(analysis.posterior[i] / analysis.evidence[i]);
    GridFunction& own = mass[classes[k]];
    for (int node = from; node <= to; ++node) {
      own.value[node - curve.first] +=
          factor * curve.value[node - curve.first] * predicted.value[node - predicted.first];
    }
  }
  return mass;
}

// Entropy of the answers, averaged over where the next reading may fall.
double doubt_after_observation(const std::array<GridFunction, 4>& mass, double relative_sd)
{
  std::array<GridFunction, 4> read;
  for (std::size_t c = 0; c < mass.size(); ++c) {
    read[c] = smoothed(mass[c], relative_sd);
  }
  double left = 0.0;
  double total = 0.0;
  for (std::size_t node = 0; node < read[0].value.size(); ++node) {
    const std::array<double, 4> here = {read[0].value[node], read[1].value[node], read[2].value[node],
                                        read[3].value[node]};
    const double sum = here[0] + here[1] + here[2] + here[3];
    left += sum * entropy_bits(here);
    total += sum;
  }
  return left / std::max(total, 1e-300);
}

}  // namespace

double expected_bits_of_observation(const Analysis& analysis, const std::vector<int>& plausible, Question question,
                                    const Claim* claim, double relative_sd)
{
  constexpr double says_nothing = 3.0;  // of a density between 0.5 and 23 g/cm3
  if (!(relative_sd < says_nothing)) {
    return 0.0;
  }
  const std::vector<int> classes = answer_classes_of(analysis, plausible, question, claim);
  const double now = doubt_of(analysis, plausible, question, claim);
  return std::max(now - doubt_after_observation(mass_by_answer(analysis, plausible, classes), relative_sd), 0.0);
}

std::vector<NextTest> next_weighings_of(const Analysis& analysis, const std::vector<int>& plausible, Question question,
                                        const Claim* claim, const Weighing& weighing)
{
  std::vector<NextTest> all;
  if (plausible.empty() || analysis.read_share <= 0.0 || !analysis.density.possible) {
    return all;
  }
  const double doubt = doubt_of(analysis, plausible, question, claim);
  const double now = relative_u(weighing);
  for (const SharperWeighing& sharper : sharper_weighings(weighing)) {
    if (question == Question::claim && sharper.key == "pool" && weighing.count == 1) {
      continue;  // what is said of one piece is not shown by the mean of many
    }
    const double then = relative_u(sharper.weighing);
    const double precision = 1.0 / (then * then) - 1.0 / (now * now);
    const double bits = precision <= 0.0 ? 0.0
                                         : expected_bits_of_observation(analysis, plausible, question, claim,
                                                                        1.0 / std::sqrt(precision));
    all.push_back(
        {sharper.key, sharper.step, bits, value_for_effort(bits, sharper.effort), doubt, false, {}, least_bits, true});
  }
  return all;
}

std::vector<NextTest> next_steps_of(std::vector<NextTest> tests, std::vector<NextTest> weighings)
{
  std::move(weighings.begin(), weighings.end(), std::back_inserter(tests));
  std::erase_if(tests, [](const NextTest& step) { return !(step.bits >= step.least); });
  std::stable_sort(tests.begin(), tests.end(), [](const NextTest& a, const NextTest& b) { return a.value > b.value; });
  return tests;
}

}  // namespace bilancetta
