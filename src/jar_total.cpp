#include "jar_total.hpp"

#include <algorithm>
#include <cmath>

#include "jar_draws.hpp"

namespace bilancetta
{

namespace
{

constexpr long most_draws = 4000;
constexpr long fewest_draws = 1000;
constexpr long draws_in_all = 4000000;
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
  for (const auto& [hypothesis, sums] : explanations) {
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
    const double p = d.up_to[k] - (k > 0 ? d.up_to[k - 1] : 0.0);
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

// The pieces of a lot hold the same fraction wherever they lie, so that each pile has its share by mass. Pieces of a
// kind that lie on different piles were told apart: what lies on one pile has odds of its own.
Drawn drawn_from(const Jar::Group& group, const std::vector<PileTotal>& piles, std::vector<PartOfKind>& parts)
{
  const bool is_lot = !group.lot.empty();
  Drawn d = drawn_from(group.explanations, group.mass_g, is_lot ? &group : nullptr);
  d.rows = group.mass_g * group.mass_g / group.mass_squared;
  for (std::size_t k = 0; k < piles.size(); ++k) {
    const auto match = group.piles.find(piles[k].pile);
    if (match == group.piles.end()) {
      continue;
    }
    if (is_lot || group.piles.size() == 1) {
      d.pile_share.emplace_back(k, match->second.mass_g / group.mass_g);
    } else {
      parts.emplace_back(k, drawn_from(match->second.explanations, match->second.mass_g, nullptr));
    }
  }
  return d;
}

Band band_of(std::vector<double>& values, double level)
{
  std::sort(values.begin(), values.end());
  const auto quantile = [&](double p) {
    const double at = p * static_cast<double>(values.size() - 1);
    const auto below = static_cast<std::size_t>(at);
    const std::size_t above = std::min(below + 1, values.size() - 1);
    return values[below] + (at - static_cast<double>(below)) * (values[above] - values[below]);
  };
  return {quantile(0.5), quantile(0.5 - 0.5 * level), quantile(0.5 + 0.5 * level)};
}

// What is drawn again and again; each list holds one value a draw.
struct Draws {
  std::array<std::vector<double>, 4> alike, apart;
  std::vector<std::vector<double>> piles, lots;
  std::vector<double> worth, price;
};

std::array<double, 4> prices_of(const Prices& prices)
{
  std::array<double, 4> per_g{};
  for (std::size_t m = 0; m < per_g.size(); ++m) {
    if (const auto match = prices.per_g.find(jar_metals[m]); match != prices.per_g.end()) {
      per_g[m] = match->second;
    }
  }
  return per_g;
}

class Totals
{
 public:
  Totals(const std::vector<Drawn>& groups, const std::vector<PartOfKind>& parts, std::size_t piles, std::size_t lots)
      : groups_(groups), parts_(parts), lots_(lots)
  {
    draws_.piles.resize(piles);
    draws_.lots.resize(lots);
    int hypotheses = 0;
    for (const Drawn& d : groups) {
      hypotheses = std::max(hypotheses, 1 + *std::max_element(d.hypothesis.begin(), d.hypothesis.end()));
    }
    simulation_ = Simulation(hypotheses);
    many_.sd_g.resize(hypotheses);
    work_ += static_cast<double>(parts.size());
    for (std::size_t g = 0; g < groups.size(); ++g) {
      work_ += has_many(g) ? 1.0 : 1.0 + groups[g].rows;
      if (has_many(g)) {
        many_.add(groups[g]);
      }
    }
  }
  Draws run(double common_u_g, const Prices& prices)
  {
    const std::array<double, 4> per_g = prices_of(prices);
    const long count = std::clamp(static_cast<long>(draws_in_all / work_), fewest_draws, most_draws);
    for (long i = 0; i < count; ++i) {
      one_draw(common_u_g);
      double price = 0.0;
      for (std::size_t m = 0; m < per_g.size(); ++m) {
        price += per_g[m] * draws_.alike[m].back();
      }
      draws_.price.push_back(price);
      draws_.worth.push_back(price * prices.pays);
    }
    return std::move(draws_);
  }

 private:
  // A lot is one material by the user's word, also in the independent total.
  [[nodiscard]] bool has_many(std::size_t g) const { return g >= lots_ && groups_[g].rows > drawn_singly_up_to; }
  void one_draw(double common_u_g)
  {
    simulation_.next();
    Grams alike{};
    Grams apart = simulation_.apart(many_);
    std::vector<double> pile_g(draws_.piles.size());
    for (std::size_t g = 0; g < groups_.size(); ++g) {
      const Grams one = simulation_.alike(groups_[g]);
      const Grams other = g < lots_ ? one : has_many(g) ? Grams{} : simulation_.apart(groups_[g]);
      for (std::size_t m = 0; m < one.size(); ++m) {
        alike[m] += one[m];
        apart[m] += other[m];
      }
      for (const auto& [pile, share] : groups_[g].pile_share) {
        pile_g[pile] += share * one[0];
      }
      if (g < lots_) {
        draws_.lots[g].push_back(one[0]);
      }
    }
    for (const auto& [pile, part] : parts_) {
      pile_g[pile] += simulation_.alike(part)[0];
    }
    const double common = common_u_g * simulation_.normal();
    alike[0] = std::max(0.0, alike[0] + common);
    apart[0] = std::max(0.0, apart[0] + common);
    for (std::size_t m = 0; m < alike.size(); ++m) {
      draws_.alike[m].push_back(alike[m]);
      draws_.apart[m].push_back(apart[m]);
    }
    for (std::size_t k = 0; k < pile_g.size(); ++k) {
      draws_.piles[k].push_back(pile_g[k]);
    }
  }

  const std::vector<Drawn>& groups_;
  const std::vector<PartOfKind>& parts_;
  std::size_t lots_;
  Simulation simulation_{0};
  Many many_;
  double work_ = 1.0;
  Draws draws_;
};

}  // namespace

void add_totals(const std::vector<Jar::Group>& groups, double common_u_g, const JarOptions& options,
                JarSummary& summary)
{
  for (const char* metal : jar_metals) {
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
        const double p = drawn.back().up_to[k] - (k > 0 ? drawn.back().up_to[k - 1] : 0.0);
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
  Draws draws = Totals(drawn, parts, summary.piles.size(), summary.lots.size()).run(common_u_g, options.prices);
  for (std::size_t m = 0; m < jar_metals.size(); ++m) {
    summary.metals[m].alike_g = band_of(draws.alike[m], options.level);
    summary.metals[m].independent_g = band_of(draws.apart[m], options.level);
  }
  for (std::size_t k = 0; k < summary.piles.size(); ++k) {
    summary.piles[k].silver_g = band_of(draws.piles[k], options.level);
  }
  for (std::size_t k = 0; k < summary.lots.size(); ++k) {
    summary.lots[k].silver_g = band_of(draws.lots[k], options.level);
  }
  if (!options.prices.per_g.empty()) {
    summary.prices = options.prices;
    summary.worth = band_of(draws.worth, options.level);
    summary.metal_price = band_of(draws.price, options.level).median;
    constexpr double counts_from_g = 0.01;
    for (std::size_t m = 0; m < jar_metals.size(); ++m) {
      if (!options.prices.per_g.contains(jar_metals[m]) && summary.metals[m].alike_g.high >= counts_from_g) {
        summary.unpriced.push_back(static_cast<int>(m));
      }
    }
  }
}

}  // namespace bilancetta
