#include <algorithm>
#include <map>
#include <numeric>
#include <set>
#include <string>

#include "bilancetta/posterior.hpp"

namespace bilancetta
{

namespace
{

// At an unknown place a thing is as common as it is anywhere, unless the row says otherwise.
Commonness commonness_at(const std::map<std::string, Commonness>& found, const std::string& place)
{
  if (place == "unknown" && !found.contains(place)) {
    return commonest(found);
  }
  const auto match = found.find(place);
  return match == found.end() ? Commonness::absent : match->second;
}

// Group of the outer material and, of a layered piece, of the inner one.
using Family = std::pair<std::string, std::string>;

// Weights of materials within their families at a place.
class RowWeights
{
 public:
  RowWeights(const Tables& tables, std::string place) : tables_(&tables), place_(std::move(place))
  {
    for (const Material& material : tables.materials) {
      if (material.found.contains(place_)) {
        known_.insert(material.group);
      }
    }
  }
  /// Where no row of a family says that it is found here, they are as common among each other as anywhere.
  [[nodiscard]] double of_material(int index) const
  {
    const Material& material = tables_->materials[index];
    return weight_of(commonness_at(material.found, known_.contains(material.group) ? place_ : "unknown"));
  }
  [[nodiscard]] double of_build(int row) const
  {
    return row < 0 ? 1.0 : weight_of(commonness_at(tables_->builds[row].found, place_));
  }
  /// Of a member within its family.
  [[nodiscard]] double of(const Hypothesis& h) const
  {
    const double inner = h.inner_material >= 0 ? of_material(h.inner_material) : 1.0;
    return of_material(h.outer_material) * of_build(h.build_row) * inner;
  }

 private:
  const Tables* tables_;
  std::string place_;
  std::set<std::string> known_;  // families with a row that is found here
};

// How common a family is as a coat or a face.
double layer_weight(const Place& place, const std::string& family)
{
  const auto match = place.families.find(family);
  return weight_of(match == place.families.end() ? Commonness::absent : match->second);
}

// The same of what a whole piece, a core or a carrier is made of.
double body_weight(const Place& place, const std::string& family)
{
  const bool coat = std::find(place.coats_only.begin(), place.coats_only.end(), family) != place.coats_only.end();
  return coat ? weight_of(Commonness::absent) : layer_weight(place, family);
}

bool fits_form(const Hypothesis& h, Form form)
{
  if (form == Form::solid) {
    return h.kind != Kind::hollow;
  }
  return form == Form::unsure || h.kind == Kind::hollow || h.kind == Kind::open_mix;
}

void normalise(std::vector<double>& values)
{
  const double total = std::accumulate(values.begin(), values.end(), 0.0);
  for (double& value : values) {
    value = total > 0.0 ? value / total : 0.0;
  }
}

// Every material alike as the body of the piece; a body alike bare, coated, faced or hollow.
std::vector<double> even_prior_of(const Members& members, const Context& context)
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

std::string key_of(const Context& context)
{
  std::string key = context.place + '\n' + std::string(name_of(context.form)) + (context.even_odds ? "\ne\n" : "\n") +
                    context.answers.reagent + (context.answers.reagent_checked ? "+" : "");
  for (const auto& [test, answer] : context.answers.given) {
    key.append("\n").append(test).append("=").append(answer);
  }
  return key;
}

std::vector<double> prior_of(const Tables& tables, const Members& members, const Context& context)
{
  const Place& place = place_called(tables, context.place);
  std::vector<double> prior(members.size(), 0.0);
  if (context.even_odds) {
    prior = even_prior_of(members, context);
    normalise(prior);
    return prior;
  }
  // Row weights summed within each family of each build, and family weights within each build.
  const RowWeights rows(tables, place.key);
  using Key = std::pair<Build, Family>;
  std::map<Key, double> family_rows;
  std::map<Key, double> pairing;  // how common such a coat or face on such a base is
  const auto key_of = [&](const Hypothesis& h) {
    const auto group = [&](int material) { return material < 0 ? std::string() : tables.materials[material].group; };
    return Key{h.build, {group(h.outer_material), group(h.inner_material)}};
  };
  for (std::size_t i = 0; i < members.size(); ++i) {
    const Hypothesis& h = members[i]->hypothesis;
    if (h.kind != Kind::open_mix) {
      prior[i] = rows.of(h);
      family_rows[key_of(h)] += prior[i];
      double& pair = pairing[key_of(h)];
      pair = std::max(pair, rows.of_build(h.build_row));
    }
  }
  const auto family_weight = [&](const Key& key) {
    const auto& [outer, inner] = key.second;
    const double both =
        inner.empty() ? body_weight(place, outer) : layer_weight(place, outer) * body_weight(place, inner);
    return both * pairing.at(key);
  };
  std::array<double, 4> family_total{};
  for (const auto& [key, weight] : family_rows) {
    family_total[static_cast<int>(key.first)] += family_weight(key);
  }
  for (std::size_t i = 0; i < members.size(); ++i) {
    const Hypothesis& h = members[i]->hypothesis;
    if (h.kind == Kind::open_mix) {
      prior[i] = tables.open_mix.prior;
    } else if (!fits_form(h, context.form)) {
      prior[i] = 0.0;
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

}  // namespace bilancetta
