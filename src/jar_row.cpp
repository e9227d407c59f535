#include <algorithm>
#include <cmath>

#include "bilancetta/jar.hpp"
#include "draws.hpp"

namespace bilancetta
{

namespace
{

constexpr std::array<const char*, 3> others = {"Au", "Pd", "Pt"};

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

std::string key_of(const Context& context)
{
  std::string key = context.place + '/' + context.form + (context.even_odds ? "/even" : "");
  for (const auto& [test, answer] : context.answers.given) {
    key.append("/").append(test).append("=").append(answer);
  }
  return key;
}

void weigh_row(const Piece& piece, const Analysis& a, JarRow& row)
{
  const Scale& scale = piece.weighing.scale;
  const double dry = displacement_of(piece.weighing.readings).dry_g;
  row.mass_g = mass_g(dry, a.density.value, a.curve.air_g_cm3);
  row.mass_u_g = std::sqrt(scale.readability_g * scale.readability_g / 12.0 +
                           scale.repeatability_g * scale.repeatability_g /
                               static_cast<double>(piece.weighing.readings.dry_g.size()) +
                           scale.linearity_g * scale.linearity_g / 3.0);
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

PreciousContent::PreciousContent(const Prepared& prepared)
{
  for (const char* metal : jar_metals) {
    mixed_.emplace_back(prepared.tables(), find_constituent(prepared.tables(), metal));
  }
  for (int size = 0; size < Prepared::size_classes; ++size) {
    for (const Member* member : prepared.members(0.001 * std::pow(4.0, size))) {
      std::array<ShareMoments, 3> content{};
      bool any = false;
      for (std::size_t m = 0; m < others.size() && !content_.contains(member); ++m) {
        const int constituent = find_constituent(prepared.tables(), others[m]);
        if (constituent >= 0 && holds(member->hypothesis, constituent)) {
          content[m] = moments_of(member->hypothesis, constituent);
          any = true;
        }
      }
      if (any) {
        content_[member] = content;
      }
    }
  }
}

const std::array<ShareMoments, 3>* PreciousContent::of(const Member* member) const
{
  const auto match = content_.find(member);
  return match == content_.end() ? nullptr : &match->second;
}

JarRow jar_row_of(const Tables& tables, const PreciousContent& content, const Piece& piece, const Analysis& analysis,
                  const Background& background, const std::vector<int>& plausible,
                  const std::vector<ShareMoments>& silver, Pile pile)
{
  JarRow row;
  weigh_row(piece, analysis, row);
  row.context = key_of(piece.context);
  row.pile = name_of(pile);
  row.tested = !piece.context.answers.given.empty();
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
    if (const auto* other = content.of((*analysis.members)[i])) {
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
  row.bounds.emplace();
  for (std::size_t m = 0; m < jar_metals.size(); ++m) {
    (*row.bounds)[m] = content.mixed(m).between(analysis.density.low, analysis.density.high);
  }
  return row;
}

}  // namespace bilancetta
