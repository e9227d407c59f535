#include "bilancetta/posterior.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "draws.hpp"

namespace bilancetta
{

namespace
{

double class_volume_cm3(int size_class)
{
  return 0.001 * std::pow(4.0, size_class);
}

int class_of(double volume_cm3)
{
  const int nearest = static_cast<int>(std::lround(std::log(std::max(volume_cm3, 1e-6) / 0.001) / std::log(4.0)));
  return std::clamp(nearest, 0, Prepared::size_classes - 1);
}

// A hazard counts if a material lists it, or a part holds enough of a constituent that causes it.
std::uint32_t hazards_of(const Tables& tables, const Hypothesis& h)
{
  std::uint32_t bits = 0;
  for (std::size_t k = 0; k < tables.cautions.size(); ++k) {
    const Caution& caution = tables.cautions[k];
    for (const int index : {h.kind == Kind::open_mix ? -1 : h.outer_material, h.inner_material}) {
      if (index < 0) {
        continue;
      }
      const Material& material = tables.materials[index];
      const bool listed =
          std::find(material.cautions.begin(), material.cautions.end(), caution.key) != material.cautions.end();
      const bool contained =
          std::any_of(material.components.begin(), material.components.end(), [&](const Component& c) {
            return c.fraction.typical >= caution.counts_from &&
                   std::find(caution.constituents.begin(), caution.constituents.end(), c.constituent) !=
                       caution.constituents.end();
          });
      bits |= listed || contained ? 1U << k : 0U;
    }
  }
  return bits;
}

std::array<double, 3> other_precious_of(const Tables& tables, const Hypothesis& h)
{
  const double typical[max_variables] = {};
  const Outcome<double> outcome = h.evaluate(typical);
  const auto fraction = [&](const char* key) { return fraction_of(h, outcome, find_constituent(tables, key)); };
  return {fraction("Au"), fraction("Pd"), fraction("Pt")};
}

}  // namespace

Member member_of(const Tables& tables, const Hypothesis& hypothesis, bool with_silver)
{
  Member member;
  member.hypothesis = hypothesis;
  member.hazards = hazards_of(tables, hypothesis);
  member.pile = pile_for(tables, hypothesis);
  member.other_precious = other_precious_of(tables, hypothesis);
  const int silver = find_constituent(tables, "Ag");
  member.holds_silver = holds(hypothesis, silver);
  const bool tabulates = with_silver && member.holds_silver;
  const std::vector<float>& weights = draw_weights_of(hypothesis);
  constexpr auto per_spacing = static_cast<float>(1.0 / density_grid::spacing);
  const int draws = static_cast<int>(weights.size());
  member.place.resize(draws);
  std::vector<float> fraction(tabulates ? draws : 0);
  const NormalBank& bank = bank_for(hypothesis);
  const double widening = widening_of(hypothesis);
  double z[max_variables] = {};
  for (int i = 0; i < draws; ++i) {
    for (int k = 0; k < hypothesis.variables; ++k) {
      z[k] = widening * bank.at(i)[k];
    }
    const Outcome<double> outcome = hypothesis.evaluate(z);
    // Single precision places a draw to 1e-4 of a node.
    member.place[i] = std::log(static_cast<float>(outcome.density / density_grid::lowest_g_cm3)) * per_spacing;
    if (tabulates) {
      fraction[i] = static_cast<float>(fraction_of(hypothesis, outcome, silver));
    }
  }
  if (tabulates) {
    member.silver = ShareTable(member.place, fraction, weights, hypothesis.scatter);
  }
  const auto [lowest, highest] = std::minmax_element(member.place.begin(), member.place.end());
  const int first = std::clamp(static_cast<int>(std::floor(*lowest)), 0, density_grid::nodes - 2);
  const int last = std::clamp(static_cast<int>(std::floor(*highest)) + 1, first + 1, density_grid::nodes - 1);
  std::vector<double> mass(last - first + 1, 0.0);
  double total = 0.0;
  for (int i = 0; i < draws; ++i) {
    total += weights[i];
    const int node = static_cast<int>(std::floor(member.place[i])) - first;
    if (node >= 0 && node + 1 < static_cast<int>(mass.size())) {
      const double t = member.place[i] - static_cast<float>(node + first);
      mass[node] += weights[i] * (1.0 - t);
      mass[node + 1] += weights[i] * t;
    }
  }
  GridFunction drawn{first, {}};
  for (const double m : mass) {
    drawn.value.push_back(static_cast<float>(m / total));
  }
  member.predicted = smoothed(drawn, hypothesis.scatter);
  for (std::size_t i = 0; i < member.predicted.value.size(); ++i) {
    // From mass per node to mass per g/cm3.
    const double density = density_grid::density_at(member.predicted.first + static_cast<int>(i));
    member.predicted.value[i] /= static_cast<float>(density_grid::spacing * density);
  }
  member.levels = Pyramid(member.predicted);
  member.highest = *std::max_element(member.predicted.value.begin(), member.predicted.value.end());
  return member;
}

Prepared::Prepared(const Tables& tables) : tables_(&tables), coated_(size_classes)
{
  prepare_uncoated();
  for (int k = 0; k < size_classes; ++k) {
    prepare_coated(k, {class_volume_cm3(k), {}});
  }
}

Prepared::Prepared(const Tables& tables, const PieceSize& size) : tables_(&tables), one_size_(true), coated_(1)
{
  prepare_uncoated();
  prepare_coated(0, size);
}

void Prepared::prepare_uncoated()
{
  const int materials = static_cast<int>(tables_->materials.size());
  for (int m = 0; m < materials; ++m) {
    uncoated_.push_back(member_of(*tables_, solid_hypothesis(*tables_, m), !one_size_));
  }
  for (int row = 0; row < static_cast<int>(tables_->builds.size()); ++row) {
    const BuildRow& build = tables_->builds[row];
    for (const int outer : build.outer) {
      if (build.build == Build::other) {
        uncoated_.push_back(member_of(*tables_, hollow_hypothesis(*tables_, row, outer), !one_size_));
      }
      for (const int inner : build.inner) {
        if (build.build == Build::inlay) {
          uncoated_.push_back(member_of(*tables_, layered_hypothesis(*tables_, row, outer, inner, {}), !one_size_));
        }
      }
    }
  }
  uncoated_.push_back(member_of(*tables_, open_mix_hypothesis(*tables_), !one_size_));
}

void Prepared::prepare_coated(int size_class, const PieceSize& size)
{
  std::vector<Member>& coated = coated_[size_class];
  for (int row = 0; row < static_cast<int>(tables_->builds.size()); ++row) {
    const BuildRow& build = tables_->builds[row];
    if (build.build != Build::plated) {
      continue;
    }
    for (const int outer : build.outer) {
      for (const int inner : build.inner) {
        coated.push_back(member_of(*tables_, layered_hypothesis(*tables_, row, outer, inner, size), !one_size_));
      }
    }
  }
  std::vector<const Member*>& members = members_.emplace_back();
  for (const auto* group : {&uncoated_, &coated}) {
    for (const Member& member : *group) {
      members.push_back(&member);
    }
  }
}

const std::vector<const Member*>& Prepared::members(double volume_cm3) const
{
  return members_[one_size_ ? 0 : class_of(volume_cm3)];
}

LevelWeights evidence_weights_of(const DensityCurve& curve)
{
  constexpr int most_nodes = 72;
  return weights_on_level(curve, most_nodes, 0);
}

std::vector<double> evidence_of(const std::vector<const Member*>& members, const LevelWeights& weights)
{
  std::vector<double> evidence;
  evidence.reserve(members.size());
  for (const Member* member : members) {
    evidence.push_back(member->levels.under(weights));
  }
  return evidence;
}

std::vector<double> posterior_of(const std::vector<double>& prior, const std::vector<double>& evidence,
                                 const std::vector<double>& test_likelihood)
{
  assert(prior.size() == evidence.size() && prior.size() == test_likelihood.size());
  std::vector<double> posterior(prior.size());
  double total = 0.0;
  for (std::size_t i = 0; i < prior.size(); ++i) {
    posterior[i] = prior[i] * evidence[i] * test_likelihood[i];
    total += posterior[i];
  }
  for (double& value : posterior) {
    value = total > 0.0 ? value / total : 0.0;
  }
  return posterior;
}

}  // namespace bilancetta
