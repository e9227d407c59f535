#include "bilancetta/hypothesis.hpp"

#include <algorithm>

#include "layer.hpp"

namespace bilancetta
{

namespace
{

Spread spread_between(double low, double typical, double high, int& next_variable)
{
  Spread s;
  s.centre = typical;
  s.below = (typical - low) / two_sided_95;
  s.above = (high - typical) / two_sided_95;
  if (s.below > 1e-12 || s.above > 1e-12) {
    s.variable = next_variable++;
  }
  return s;
}

double logit(double share)
{
  return std::log(share / (1.0 - share));
}

// A low end of 0 has no logarithm: it is read as a tenth of the typical value.
Range above_zero(const Range& r)
{
  return {r.low > 0.0 ? r.low : 0.1 * r.typical, r.typical, r.high};
}

Spread logit_spread(const Range& range, int& next_variable)
{
  const Range r = above_zero(range);
  return spread_between(logit(r.low), logit(r.typical), logit(r.high), next_variable);
}

}  // namespace

Recipe::Recipe(const Material& material, const std::vector<Constituent>& constituents, int first_variable)
    : size(static_cast<int>(material.components.size())),
      variables(first_variable),
      porous(material.porous),
      factor(1.0 + material.departure.typical)
{
  constexpr double bends_within = 0.05;  // of the typical fraction of the balance
  balance = material.balance;
  for (int i = 0; i < size; ++i) {
    const Component& component = material.components[i];
    constituent[i] = component.constituent;
    volume[i] = 1.0 / constituents[component.constituent].density_g_cm3;
    const Range r = above_zero(component.fraction);
    fixed[i] = r.typical;
    if (i != balance) {
      log_fraction[i] = spread_between(std::log(r.low), std::log(r.typical), std::log(r.high), variables);
    }
  }
  bend = bends_within * bends_within * fixed[balance] / 4.0;
  if (porous) {
    pores = logit_spread(material.pores, variables);
  }
  log_factor = spread_between(std::log1p(material.departure.low), std::log1p(material.departure.typical),
                              std::log1p(material.departure.high), variables);
}

Hypothesis solid_hypothesis(const Tables& tables, int material)
{
  Hypothesis h;
  h.outer_material = material;
  h.outer = Recipe(tables.materials[material], tables.constituents, 0);
  h.variables = h.outer.variables;
  h.scatter = tables.materials[material].scatter;
  return h;
}

Hypothesis layered_hypothesis(const Tables& tables, int build_row, int outer, int inner, const PieceSize& size)
{
  // Of pieces of the usual shape factor the area is between that of a sphere (4.84) and a thin sheet (18) times
  // volume^(2/3), of others in proportion; judgement.
  constexpr Range shape_factor{5.0, usual_shape_factor, 18.0};
  const BuildRow& row = tables.builds[build_row];
  Hypothesis h = solid_hypothesis(tables, outer);
  h.build = row.build;
  h.kind = row.build == Build::plated ? Kind::plated : row.build == Build::inlay ? Kind::inlay : Kind::joined;
  h.build_row = build_row;
  h.both_faces = row.both_faces;
  h.inner_material = inner;
  h.inner = Recipe(tables.materials[inner], tables.constituents, h.variables);
  h.variables = h.inner.variables;
  if (h.kind == Kind::plated) {
    h.amount =
        spread_between(std::log(row.amount.low), std::log(row.amount.typical), std::log(row.amount.high), h.variables);
    if (size.area_cm2) {
      h.shape.centre = std::log(*size.area_cm2 / size.volume_cm3);
    } else {
      const double base = std::log(size.shape_factor / usual_shape_factor) - std::log(size.volume_cm3) / 3.0;
      h.shape = spread_between(base + std::log(shape_factor.low), base + std::log(shape_factor.typical),
                               base + std::log(shape_factor.high), h.variables);
    }
  } else {
    h.amount = logit_spread(row.amount, h.variables);
  }
  const double zero[max_variables] = {};
  const double coat = h.kind == Kind::plated ? h.evaluate(zero).outer_mass_share : 1.0;
  h.scatter = std::max(coat * h.scatter, tables.materials[inner].scatter);
  if (size.layer_mm && h.kind != Kind::joined) {
    std::array<double, max_components> fractions{};
    const FacedDensities densities{h.outer.evaluate(zero, fractions), h.inner.evaluate(zero, fractions)};
    h.layer_chance = h.kind == Kind::plated ? learn_coat(h.amount, *size.layer_mm)
                                            : learn_face(h.amount, *size.layer_mm, size, row.both_faces, densities);
  }
  return h;
}

Hypothesis hollow_hypothesis(const Tables& tables, int build_row, int material)
{
  Hypothesis h = solid_hypothesis(tables, material);
  h.kind = Kind::hollow;
  h.build = Build::other;
  h.build_row = build_row;
  h.amount = logit_spread(tables.builds[build_row].amount, h.variables);
  return h;
}

Hypothesis open_mix_hypothesis(const Tables& tables)
{
  Hypothesis h;
  h.kind = Kind::open_mix;
  h.scatter = 0.01;  // pores and departure of an arbitrary mix are not known better (judgement)
  h.build = Build::other;
  h.outer.size = static_cast<int>(tables.open_mix.constituents.size());
  for (int i = 0; i < h.outer.size; ++i) {
    h.outer.constituent[i] = tables.open_mix.constituents[i];
    h.outer.volume[i] = 1.0 / tables.constituents[tables.open_mix.constituents[i]].density_g_cm3;
    h.outer.fixed[i] = 1.0;
    if (i > 0) {
      h.outer.log_fraction[i] = {0.0, tables.open_mix.log_ratio_sd, tables.open_mix.log_ratio_sd, h.variables++};
    }
  }
  h.outer.variables = h.variables;
  return h;
}

bool holds(const Hypothesis& hypothesis, int constituent)
{
  const auto in = [&](const Recipe& recipe) {
    return std::find(recipe.constituent.begin(), recipe.constituent.begin() + recipe.size, constituent) !=
           recipe.constituent.begin() + recipe.size;
  };
  return in(hypothesis.outer) || in(hypothesis.inner);
}

}  // namespace bilancetta
