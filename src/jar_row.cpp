#include <algorithm>
#include <cmath>

#include "bilancetta/jar.hpp"
#include "bilancetta/remedy.hpp"
#include "draws.hpp"

namespace bilancetta
{

namespace
{

ShareMoments moments_of(const Hypothesis& h, int constituent)
{
  const std::vector<float>& weights = line_set_for(h).weights;
  Draws draws(h);
  double total = 0.0;
  double sum = 0.0;
  double squares = 0.0;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    if (weights[i] <= 0.0F) {
      continue;
    }
    const double share = fraction_of(h, draws.outcome(static_cast<int>(i), 0.5), constituent);
    total += weights[i];
    sum += weights[i] * share;
    squares += weights[i] * share * share;
  }
  const double mean = sum / total;
  return {mean, std::sqrt(std::max(0.0, squares / total - mean * mean))};
}

void weigh_row(const Piece& piece, const Analysis& a, JarRow& row)
{
  const Mass mass = mass_of(piece.weighing, a.density.value);
  row.mass_g = mass.g;
  row.mass_u_g = mass.u_g;
  row.mass_linearity_u_g = mass.linearity_u_g;
  row.density = a.density.value;
  row.density_u = a.density.standard_uncertainty;
  row.volume_each_cm3 = volume_each_cm3(a, piece.weighing);
  row.count = piece.weighing.count;
  row.explained = a.explained;
}

void add_cautions(const Tables& tables, const Piece& piece, const Analysis& a, JarRow& row)
{
  for (const CautionShown& caution : cautions_of(tables, a, piece)) {
    (caution.probability >= 0.0 ? row.cautions : row.of_place) |= 1U << find_caution(tables, caution.key);
  }
}

}  // namespace

int effort_of(const Tables& tables, const std::string& next)
{
  const auto match =
      std::find_if(tables.tests.begin(), tables.tests.end(), [&](const BenchTest& test) { return test.key == next; });
  return match == tables.tests.end() ? pooling_effort : match->effort;
}

PreciousContent::PreciousContent(const Tables& tables)
{
  for (std::size_t m = 0; m < constituents_.size(); ++m) {
    constituents_[m] = find_constituent(tables, precious_metals[m + 1]);
  }
  for (const char* metal : precious_metals) {
    mixed_.emplace_back(tables, find_constituent(tables, metal));
  }
}

const std::array<ShareMoments, 3>* PreciousContent::of(const Member& member) const
{
  const auto held = [&](int constituent) { return constituent >= 0 && holds(member.hypothesis, constituent); };
  if (std::none_of(constituents_.begin(), constituents_.end(), held)) {
    return nullptr;
  }
  std::unique_lock lock(mutex_);
  if (const auto match = known_.find(&member); match != known_.end()) {
    return &match->second;
  }
  lock.unlock();
  std::array<ShareMoments, 3> content{};
  for (std::size_t m = 0; m < content.size(); ++m) {
    content[m] = held(constituents_[m]) ? moments_of(member.hypothesis, constituents_[m]) : ShareMoments{};
  }
  lock.lock();
  return &known_.try_emplace(&member, content).first->second;
}

JarRow jar_row_of(const Tables& tables, const PreciousContent& content, const Piece& piece, const Analysis& analysis,
                  const Background& background, const std::vector<int>& plausible,
                  const std::vector<ShareMoments>& silver, Pile pile)
{
  JarRow row;
  weigh_row(piece, analysis, row);
  row.context = key_of(piece.context);
  row.pile = name_of(pile);
  row.hollow = background.hollow;
  row.tested = !piece.context.answers.given.empty();
  row.reagent = piece.context.answers.reagent;
  add_cautions(tables, piece, analysis, row);
  for (std::size_t k = 0; k < plausible.size(); ++k) {
    const auto i = static_cast<std::size_t>(plausible[k]);
    JarExplanation& e = row.explanations.emplace_back();
    e.hypothesis = plausible[k];
    e.probability = analysis.posterior[i];
    e.evidence = analysis.evidence[i];
    e.test_likelihood = background.test_likelihood[i];
    // By way of the posterior, so that what the jar has taught is in it.
    e.prior = e.probability / std::max(e.evidence * e.test_likelihood, 1e-300);
    e.share[0] = silver[k];
    if (const auto* other = content.of(*(*analysis.members)[i])) {
      std::copy(other->begin(), other->end(), e.share.begin() + 1);
    }
  }
  return row;
}

JarRow mixed_jar_row_of(const Tables& tables, const PreciousContent& content, const Piece& piece,
                        const Analysis& analysis)
{
  JarRow row;
  weigh_row(piece, analysis, row);
  add_cautions(tables, piece, analysis, row);
  if (!analysis.explained) {
    return row;  // nothing fits, so nothing bounds it
  }
  row.bounds.emplace();
  for (std::size_t m = 0; m < precious_metals.size(); ++m) {
    (*row.bounds)[m] = piece.context.is_hollow_ware()
                           ? std::pair(0.0, 1.0)  // its weight does not tell
                           : content.mixed(m).between(analysis.density.low, analysis.density.high);
  }
  return row;
}

}  // namespace bilancetta
