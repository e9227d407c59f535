#include "jar_total.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

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

double probability_in_lot(const Jar::Group& lot, int hypothesis)
{
  return lot.prior.value_of(hypothesis, 1.0) *
         lot.evidence.value_of(hypothesis, effective_readings(lot.evidence.rows())) *
         lot.answers.value_of(hypothesis, 1.0);
}

// @param lot  null for a kind, or what of it lies on one pile
Drawn drawn_from(const Jar::SumsByHypothesis& explanations, double mass_g, const Jar::Group* lot)
{
  Drawn d;
  d.mass_g = mass_g;
  double total = 0.0;
  // Whatever the order of the rows, the draws are the same.
  std::vector<std::pair<int, Jar::Sums>> sorted(explanations.begin(), explanations.end());
  std::sort(sorted.begin(), sorted.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  for (const auto& [hypothesis, sums] : sorted) {
    d.up_to.push_back(total += lot != nullptr ? probability_in_lot(*lot, hypothesis) : sums.probability_g);
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
double mass_u_of(const Jar::Group& group, double part)
{
  return std::sqrt(group.mass_variance / part + group.mass_linearity_u_g * group.mass_linearity_u_g) / group.mass_g;
}

// The pieces of a lot hold the same fraction wherever they lie, so that each pile has its share by mass. Pieces of a
// kind that lie on different piles were told apart: what lies on one pile has odds of its own.
Drawn drawn_from(const Jar::Group& group, const std::vector<PileTotal>& piles, std::vector<PartOfKind>& parts)
{
  const bool is_lot = !group.lot.empty();
  Drawn d = drawn_from(group.explanations, group.mass_g, is_lot ? &group : nullptr);
  d.rows = group.mass_g * group.mass_g / group.mass_squared;
  d.mass_u = mass_u_of(group, 1.0);
  for (std::size_t k = 0; k < piles.size(); ++k) {
    const auto match = group.piles.find(piles[k].pile);
    if (match == group.piles.end()) {
      continue;
    }
    if (is_lot || group.piles.size() == 1) {
      d.pile_share.emplace_back(k, match->second.mass_g / group.mass_g);
    } else {
      Drawn& part = parts.emplace_back(k, drawn_from(match->second.explanations, match->second.mass_g, nullptr)).second;
      for (Grams& mean : part.mean_g) {
        mean = {mean[0]};  // of a pile only the silver is told
      }
      part.mass_u = mass_u_of(group, part.mass_g / group.mass_g);
    }
  }
  return d;
}

// That of n draws a share p lies below an end is true but for sqrt(p (1 - p) / n).
TotalBand band_of(std::vector<double>& values, double level)
{
  const auto n = static_cast<double>(values.size());
  std::vector<std::size_t> places;
  for (const double p : {0.5, 0.5 - 0.5 * level, 0.5 + 0.5 * level}) {
    for (const double off : {0.0, -1.0, 1.0}) {
      places.push_back(static_cast<std::size_t>(std::clamp(p * n + off * std::sqrt(p * (1.0 - p) * n), 0.0, n - 1.0)));
    }
  }
  std::vector<std::size_t> rising = places;
  std::sort(rising.begin(), rising.end());
  auto rest = values.begin();
  for (const std::size_t place : rising) {
    const auto match = values.begin() + static_cast<std::ptrdiff_t>(place);
    if (match >= rest) {
      std::nth_element(rest, match, values.end());
      rest = match + 1;
    }
  }
  TotalBand band;
  band.mean = std::accumulate(values.begin(), values.end(), 0.0) / n;
  const auto fill = [&](std::size_t first, double& value, double& value_u) {
    value = values[places[first]];
    value_u = 0.5 * (values[places[first + 2]] - values[places[first + 1]]);
  };
  fill(0, band.median, band.median_u);
  fill(3, band.low, band.low_u);
  fill(6, band.high, band.high_u);
  return band;
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

// Group by group, so that a group's draws are forgotten once they are added up.
class Totals
{
 public:
  Totals(const std::vector<Drawn>& groups, const std::vector<PartOfKind>& parts, std::size_t lots)
      : groups_(groups), parts_(parts), lots_(lots), simulation_(order_of_draws())
  {
    alike_.fill(std::vector<double>(simulation_.draws()));
    apart_.fill(std::vector<double>(simulation_.draws()));
  }
  void add_to(JarSummary& summary, const JarOptions& options)
  {
    piles_.assign(summary.piles.size(), std::vector<double>(simulation_.draws()));
    for (std::size_t g = 0; g < groups_.size(); ++g) {
      Columns one = add_group(g);
      if (g < lots_) {
        summary.lots[g].silver_g = band_of(one[0], options.level);
      }
    }
    simulation_.apart(many(), apart_);
    for (const auto& [pile, part] : parts_) {
      Columns one = nothing();
      simulation_.alike(part, 1.0, one);
      add(one[0], 1.0, piles_[pile]);
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
  [[nodiscard]] bool has_many(std::size_t g) const { return g >= lots_ && groups_[g].rows > drawn_singly_up_to; }
  [[nodiscard]] int order_of_draws() const
  {
    double work = 1.0 + static_cast<double>(parts_.size());
    for (std::size_t g = 0; g < groups_.size(); ++g) {
      work += g < lots_ || has_many(g) ? 1.0 : 1.0 + groups_[g].rows;
    }
    return static_cast<int>(std::clamp(std::lround(draws_in_all - std::log2(work)), fewest_draws, most_draws));
  }
  [[nodiscard]] Columns nothing() const
  {
    Columns columns;
    columns.fill(std::vector<double>(simulation_.draws()));
    return columns;
  }
  static void add(const std::vector<double>& from, double share, std::vector<double>& to)
  {
    for (std::size_t i = 0; i < to.size(); ++i) {
      to[i] += share * from[i];
    }
  }
  Columns add_group(std::size_t g)
  {
    Columns one = nothing();
    simulation_.alike(groups_[g], 1.0, one);
    if (g >= lots_ && !has_many(g)) {
      simulation_.apart(groups_[g], apart_);
    }
    for (std::size_t m = 0; m < one.size(); ++m) {
      add(one[m], 1.0, alike_[m]);
      if (g < lots_) {
        add(one[m], 1.0, apart_[m]);
      }
    }
    for (const auto& [pile, share] : groups_[g].pile_share) {
      add(one[0], share, piles_[pile]);
    }
    return one;
  }
  [[nodiscard]] Many many() const
  {
    Many many;
    for (std::size_t g = 0; g < groups_.size(); ++g) {
      if (has_many(g)) {
        many.add(groups_[g]);
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

  const std::vector<Drawn>& groups_;
  const std::vector<PartOfKind>& parts_;
  std::size_t lots_;
  Simulation simulation_;
  Columns alike_, apart_;
  std::vector<std::vector<double>> piles_;
};

}  // namespace

void add_totals(const std::vector<Jar::Group>& groups, const JarOptions& options, JarSummary& summary)
{
  for (const char* metal : precious_metals) {
    summary.metals.push_back({metal, {}, {}});
  }
  std::vector<Drawn> drawn;
  std::vector<PartOfKind> parts;
  for (const Jar::Group& group : groups) {
    drawn.push_back(drawn_from(group, summary.piles, parts));
    if (!group.lot.empty()) {
      LotTotal& lot = summary.lots.emplace_back();
      lot.lot = group.lot;
      lot.rows = group.rows;
      lot.pieces = group.pieces;
      lot.mass_g = group.mass_g;
      lot.partly_suspect = group.piles.size() > 1 && group.piles.contains(std::string(name_of(Pile::cadmium_suspect)));
      lot.unlike = group.apart.unlike();
      for (std::size_t k = 0; k < drawn.back().up_to.size(); ++k) {
        const double p = drawn.back().probability(k);
        if (p > lot.probability) {
          lot.probability = p;
          lot.best = drawn.back().hypothesis[k];
        }
      }
    }
  }
  if (drawn.empty()) {
    return;
  }
  Totals(drawn, parts, summary.lots.size()).add_to(summary, options);
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
