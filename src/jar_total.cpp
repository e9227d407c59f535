#include "jar_total.hpp"

#include <algorithm>
#include <cmath>

#include "jar_draws.hpp"

namespace bilancetta
{

namespace
{

// As powers of 2. With fewer draws the ends of a band are off, with more they take longer than all else.
constexpr long most_draws = 15;
constexpr long fewest_draws = 12;
constexpr double draws_in_all = 26.0;
constexpr double drawn_singly_up_to = 20.0;  // rows of one kind; beyond, their number is normal

Drawn drawn_from(const RisingSums& explanations, double mass_g)
{
  Drawn d;
  d.mass_g = mass_g;
  double total = 0.0;
  for (const auto& [hypothesis, sums] : explanations) {
    d.up_to.push_back(total += sums.probability_g);
    d.hypothesis.push_back(hypothesis);
    // Rows that do not list it are taken to hold as much as those that do.
    const double scale = mass_g / sums.listed_g;
    Grams& mean = d.mean_g.emplace_back(sums.mean_g);
    Grams& sd = d.sd_g.emplace_back(sums.sd_g);
    for (std::size_t m = 0; m < mean.size(); ++m) {
      mean[m] *= scale;
      sd[m] *= scale;
    }
  }
  for (double& value : d.up_to) {
    value /= total;
  }
  Grams square{};
  for (std::size_t k = 0; k < d.up_to.size(); ++k) {
    const double p = d.probability(k);
    for (std::size_t m = 0; m < square.size(); ++m) {
      d.mean_of_all[m] += p * d.mean_g[k][m];
      square[m] += p * d.mean_g[k][m] * d.mean_g[k][m];
    }
  }
  for (std::size_t m = 0; m < square.size(); ++m) {
    d.sd_between[m] = std::sqrt(std::max(0.0, square[m] - d.mean_of_all[m] * d.mean_of_all[m]));
  }
  return d;
}

// Part of a kind that lies on several piles: which pile, and what lies there.
using PartOfKind = std::pair<std::size_t, Drawn>;

// Relative standard uncertainty of what is weighed, if it is `part` of the group's mass: the scale's linearity is the
// same at like loads, the rows' own errors make up for each other.
double mass_relative_u_of(const Jar::Group& group, double part)
{
  return std::sqrt(group.mass_variance / part + group.mass_linearity_u_g * group.mass_linearity_u_g) / group.mass_g;
}

Drawn drawn_from(const Jar::Group& group, const RisingSums& explanations)
{
  Drawn d = drawn_from(explanations, group.mass_g);
  d.rows = group.mass_g * group.mass_g / group.mass_squared;
  d.mass_relative_u = mass_relative_u_of(group, 1.0);
  return d;
}

// The pieces of a lot hold the same fraction wherever they lie, so that each pile has its share by mass.
Drawn drawn_from(const Jar::Lot& lot, const std::vector<PileTotal>& piles)
{
  Drawn d = drawn_from(lot, lot.sums.sums());
  for (std::size_t k = 0; k < piles.size(); ++k) {
    if (const auto match = lot.pile_g.find(piles[k].pile); match != lot.pile_g.end()) {
      d.pile_share.emplace_back(k, match->second / lot.mass_g);
    }
  }
  return d;
}

// Pieces of a kind that lie on different piles were told apart: what lies on one pile has odds of its own.
Drawn drawn_from(const Jar::Kind& kind, const std::vector<PileTotal>& piles, std::vector<PartOfKind>& parts)
{
  Drawn d = drawn_from(kind, kind.sums().sums());
  for (std::size_t k = 0; k < piles.size(); ++k) {
    const auto match = kind.piles.find(piles[k].pile);
    if (match == kind.piles.end()) {
      continue;
    }
    const Jar::OnPile& there = match->second;
    if (kind.piles.size() == 1) {
      d.pile_share.emplace_back(k, there.mass_g / kind.mass_g);
    } else {
      Drawn& part = parts.emplace_back(k, drawn_from(there.sums.sums(), there.mass_g)).second;
      for (Grams& mean : part.mean_g) {
        mean = {mean[0]};  // of a pile only the silver is told
      }
      part.mass_relative_u = mass_relative_u_of(kind, part.mass_g / kind.mass_g);
    }
  }
  return d;
}

// What is told of a lot but its band.
LotTotal total_of(const std::string& name, const Jar::Lot& lot, const Drawn& drawn)
{
  LotTotal total;
  total.lot = name;
  total.rows = lot.rows;
  total.pieces = lot.pieces;
  total.mass_g = lot.mass_g;
  total.partly_suspect = lot.pile_g.size() > 1 && lot.pile_g.contains(std::string(name_of(Pile::cadmium_suspect)));
  total.unlike = lot.apart.unlike();
  for (std::size_t k = 0; k < drawn.up_to.size(); ++k) {
    if (const double p = drawn.probability(k); p > total.probability) {
      total.probability = p;
      total.best = drawn.hypothesis[k];
    }
  }
  return total;
}

std::array<double, 4> prices_of(const Prices& prices)
{
  std::array<double, 4> per_g{};
  for (std::size_t m = 0; m < per_g.size(); ++m) {
    if (const auto match = prices.per_g.find(precious_metals[m]); match != prices.per_g.end()) {
      per_g[m] = match->second;
    }
  }
  return per_g;
}

// Lot by lot and kind by kind, so that the draws of one are forgotten once they are added up.
class Totals
{
 public:
  Totals(const Jar::Lots& lots, const std::vector<Drawn>& kinds, const std::vector<PartOfKind>& parts)
      : lots_(lots), kinds_(kinds), parts_(parts), simulation_(order_of_draws())
  {
    for (Columns* columns : {&alike_, &apart_, &one_}) {
      columns->fill(std::vector<double>(simulation_.draws()));
    }
  }
  void add_to(JarSummary& summary, const JarOptions& options)
  {
    piles_.assign(summary.piles.size(), std::vector<double>(simulation_.draws()));
    for (const auto& [name, lot] : lots_) {
      const Drawn drawn = drawn_from(lot, summary.piles);
      add_group(drawn, true);
      summary.lots.push_back(total_of(name, lot, drawn));
      summary.lots.back().silver_g = band_of(one_[0], options.level);
    }
    for (const Drawn& kind : kinds_) {
      add_group(kind, false);
      if (!has_many(kind)) {
        simulation_.apart(kind, apart_);
      }
    }
    simulation_.apart(many(), apart_);
    for (const auto& [pile, part] : parts_) {
      draw(part);
      add(one_[0], 1.0, piles_[pile]);
    }
    simulation_.common(summary.sitting_u_g, {&alike_[0], &apart_[0]});
    if (!options.prices.per_g.empty()) {
      add_worth(summary, options);
    }
    for (std::size_t m = 0; m < precious_metals.size(); ++m) {
      summary.metals[m].alike_g = band_of(alike_[m], options.level);
      summary.metals[m].independent_g = band_of(apart_[m], options.level);
    }
    for (std::size_t k = 0; k < piles_.size(); ++k) {
      summary.piles[k].silver_g = band_of(piles_[k], options.level);
    }
  }

 private:
  // A lot is one material by the user's word, also in the independent total.
  static bool has_many(const Drawn& kind) { return kind.rows > drawn_singly_up_to; }
  [[nodiscard]] int order_of_draws() const
  {
    double work = 1.0 + static_cast<double>(parts_.size()) + static_cast<double>(lots_.size());
    for (const Drawn& kind : kinds_) {
      work += has_many(kind) ? 1.0 : 1.0 + kind.rows;
    }
    return static_cast<int>(std::clamp(std::lround(draws_in_all - std::log2(work)), fewest_draws, most_draws));
  }
  static void add(const std::vector<double>& from, double share, std::vector<double>& to)
  {
    for (std::size_t i = 0; i < to.size(); ++i) {
      to[i] += share * from[i];
    }
  }
  // Makes `one_` what such a group holds.
  void draw(const Drawn& d)
  {
    for (std::vector<double>& column : one_) {
      std::fill(column.begin(), column.end(), 0.0);
    }
    simulation_.alike(d, 1.0, one_);
  }
  void add_group(const Drawn& d, bool is_lot)
  {
    draw(d);
    for (std::size_t m = 0; m < one_.size(); ++m) {
      if (d.mean_of_all[m] > 0.0) {
        add(one_[m], 1.0, alike_[m]);
        if (is_lot) {
          add(one_[m], 1.0, apart_[m]);
        }
      }
    }
    for (const auto& [pile, share] : d.pile_share) {
      add(one_[0], share, piles_[pile]);
    }
  }
  [[nodiscard]] Many many() const
  {
    Many many;
    for (const Drawn& kind : kinds_) {
      if (has_many(kind)) {
        many.add(kind);
      }
    }
    return many;
  }
  void add_worth(JarSummary& summary, const JarOptions& options) const
  {
    const std::array<double, 4> per_g = prices_of(options.prices);
    std::vector<double> price(simulation_.draws());
    for (std::size_t m = 0; m < per_g.size(); ++m) {
      add(alike_[m], per_g[m], price);
    }
    std::vector<double> worth(simulation_.draws());
    add(price, options.prices.pays, worth);
    summary.worth = band_of(worth, options.level);
    summary.metal_price = band_of(price, options.level).median;
  }

  const Jar::Lots& lots_;
  const std::vector<Drawn>& kinds_;
  const std::vector<PartOfKind>& parts_;
  Simulation simulation_;
  Columns alike_, apart_, one_;
  std::vector<std::vector<double>> piles_;
};

}  // namespace

void add_totals(const Jar::Lots& lots, const std::vector<Jar::Kind>& kinds, const JarOptions& options,
                JarSummary& summary)
{
  for (const char* metal : precious_metals) {
    summary.metals.push_back({metal, {}, {}});
  }
  if (lots.empty() && kinds.empty()) {
    return;
  }
  std::vector<Drawn> drawn;
  std::vector<PartOfKind> parts;
  drawn.reserve(kinds.size());
  for (const Jar::Kind& kind : kinds) {
    drawn.push_back(drawn_from(kind, summary.piles, parts));
  }
  Totals(lots, drawn, parts).add_to(summary, options);
  if (!options.prices.per_g.empty()) {
    summary.prices = options.prices;
    constexpr double counts_from_g = 0.01;
    for (std::size_t m = 0; m < precious_metals.size(); ++m) {
      if (!options.prices.per_g.contains(precious_metals[m]) && summary.metals[m].alike_g.high >= counts_from_g) {
        summary.unpriced.push_back(static_cast<int>(m));
      }
    }
  }
}

}  // namespace bilancetta
