#include "bilancetta/posterior.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <set>

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

// At an unknown place a thing is as common as it is anywhere, unless the row says otherwise.
Commonness commonness_at(const std::map<std::string, Commonness>& found, const std::string& place)
{
  if (place == "unknown" && !found.contains(place)) {
    Commonness most = Commonness::absent;
    for (const auto& [key, commonness] : found) {
      most = std::max(most, commonness);
    }
    return most;
  }
  const auto match = found.find(place);
  return match == found.end() ? Commonness::absent : match->second;
}

// Group of the outer material and, of a layered piece, of the inner one.
using Family = std::pair<std::string, std::string>;

// Weight of a member within its family.
double row_weight(const Tables& tables, const Hypothesis& h, const std::string& place)
{
  const auto material_weight = [&](int material) {
    return weight_of(commonness_at(tables.materials[material].found, place));
  };
  double weight = material_weight(h.outer_material);
  if (h.build_row >= 0) {
    weight *= weight_of(commonness_at(tables.builds[h.build_row].found, place));
  }
  return h.inner_material >= 0 ? weight * material_weight(h.inner_material) : weight;
}

bool fits_form(const Hypothesis& h, const std::string& form)
{
  if (form == "solid") {
    return h.kind != Kind::hollow;
  }
  return form == "unsure" || h.build == Build::other;
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

}  // namespace

Member member_of(const Tables& tables, const Hypothesis& hypothesis, bool with_silver)
{
  Member member;
  member.hypothesis = hypothesis;
  member.hazards = hazards_of(tables, hypothesis);
  const int silver = find_constituent(tables, "Ag");
  const bool tabulates = with_silver && holds(hypothesis, silver);
  const std::vector<float>& weights = draw_weights_of(hypothesis);
  const int draws = static_cast<int>(weights.size());
  member.place.resize(draws);
  std::vector<float> fraction(tabulates ? draws : 0);
  for (int i = 0; i < draws; ++i) {
    const Outcome<double> outcome = outcome_of_draw(hypothesis, i);
    member.place[i] = static_cast<float>(density_grid::position_of(outcome.density));
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

namespace
{

void normalise(std::vector<double>& values)
{
  const double total = std::accumulate(values.begin(), values.end(), 0.0);
  for (double& value : values) {
    value = total > 0.0 ? value / total : 0.0;
  }
}

// Every material alike as the body of the piece; a body alike bare, coated, faced or hollow.
std::vector<double> even_prior_of(const std::vector<const Member*>& members, const Context& context)
{
  const auto body_of = [](const Hypothesis& h) { return h.inner_material >= 0 ? h.inner_material : h.outer_material; };
  std::map<std::pair<int, Build>, int> rows;
  std::map<int, int> builds;
  for (const Member* member : members) {
    const Hypothesis& h = member->hypothesis;
    if (fits_form(h, context.form) && rows[{body_of(h), h.build}]++ == 0) {
      ++builds[body_of(h)];
    }
  }
  std::vector<double> prior;
  for (const Member* member : members) {
    const Hypothesis& h = member->hypothesis;
    prior.push_back(fits_form(h, context.form) ? 1.0 / builds[body_of(h)] / rows[{body_of(h), h.build}] : 0.0);
  }
  return prior;
}

}  // namespace

std::vector<double> prior_of(const Tables& tables, const std::vector<const Member*>& members, const Context& context)
{
  const Place& place = place_called(tables, context.place);
  std::vector<double> prior(members.size(), 0.0);
  if (context.even_odds) {
    prior = even_prior_of(members, context);
    normalise(prior);
    return prior;
  }
  // Row weights summed within each family of each build, and family weights within each build.
  using Key = std::pair<Build, Family>;
  std::map<Key, double> family_rows;
  std::map<Key, double> pairing;  // how common such a coat or face on such a base is
  const auto key_of = [&](const Hypothesis& h) {
    const auto group = [&](int material) { return material < 0 ? std::string() : tables.materials[material].group; };
    return Key{h.build, {group(h.outer_material), group(h.inner_material)}};
  };
  for (std::size_t i = 0; i < members.size(); ++i) {
    const Hypothesis& h = members[i]->hypothesis;
    if (h.kind != Kind::open_mix && fits_form(h, context.form)) {
      prior[i] = row_weight(tables, h, place.key);
      family_rows[key_of(h)] += prior[i];
      double& pair = pairing[key_of(h)];
      pair =
          std::max(pair, h.build_row < 0 ? 1.0 : weight_of(commonness_at(tables.builds[h.build_row].found, place.key)));
    }
  }
  const auto family_weight = [&](const Key& key) {
    const auto weight = [&](const std::string& group) {
      const auto match = place.families.find(group);
      return group.empty() ? 1.0 : weight_of(match == place.families.end() ? Commonness::absent : match->second);
    };
    return weight(key.second.first) * weight(key.second.second) * pairing.at(key);
  };
  std::array<double, 4> family_total{};
  for (const auto& [key, rows] : family_rows) {
    family_total[static_cast<int>(key.first)] += family_weight(key);
  }
  for (std::size_t i = 0; i < members.size(); ++i) {
    const Hypothesis& h = members[i]->hypothesis;
    if (h.kind == Kind::open_mix) {
      prior[i] = tables.open_mix.prior;
    } else if (prior[i] > 0.0) {
      const auto build = static_cast<int>(h.build);
      const double of_build = place.builds[build] - (h.build == Build::other ? tables.open_mix.prior : 0.0);
      const Key key = key_of(h);
      prior[i] *= std::max(of_build, 0.0) * family_weight(key) / family_total[build] / family_rows[key];
    }
  }
  normalise(prior);
  return prior;
}

std::vector<double> evidence_of(const std::vector<const Member*>& members, const GridFunction& weights)
{
  std::vector<double> evidence;
  evidence.reserve(members.size());
  for (const Member* member : members) {
    evidence.push_back(dot(weights, member->predicted));
  }
  return evidence;
}

std::vector<double> posterior_of(const std::vector<double>& prior, const std::vector<double>& evidence,
                                 const std::vector<double>& test_likelihood)
{
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
