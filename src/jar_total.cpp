#include "jar_total.hpp"

#include <algorithm>
#include <cmath>
#include <random>

namespace bilancetta
{

namespace
{

constexpr long most_draws = 8000;
constexpr long fewest_draws = 1000;
constexpr long draws_and_groups = 4000000;
constexpr double drawn_singly_up_to = 32.0;  // rows of one kind; beyond, their number is normal

using Grams = std::array<double, 4>;

// A group ready to be drawn: the grams of each metal in all of it if it is this material, mean and sd.
struct Drawn {
  std::vector<double> up_to;  // cumulative probability
  std::vector<int> hypothesis;
  std::vector<Grams> mean_g, sd_g;
  Grams mean_of_all{}, sd_between{};
  double rows = 1.0;  // how many equal ones are worth as much
  double mass_g = 0.0;
  std::vector<std::pair<std::size_t, double>> pile_share;
};

double probability_in(const Jar::Group& group, int hypothesis, const Jar::Sums& sums)
{
  if (group.lot.empty()) {
    return sums.probability_g;
  }
  return group.prior.value_of(hypothesis, 1.0) *
         group.evidence.value_of(hypothesis, effective_readings(group.evidence.rows())) *
         group.answers.value_of(hypothesis, 1.0);
}

Drawn drawn_from(const Jar::Group& group, const JarSummary& summary)
{
  Drawn d;
  d.mass_g = group.mass_g;
  d.rows = group.mass_g * group.mass_g / group.mass_squared;
  double total = 0.0;
  for (const auto& [hypothesis, sums] : group.explanations) {
    d.up_to.push_back(total += probability_in(group, hypothesis, sums));
    d.hypothesis.push_back(hypothesis);
    // Rows that do not list it are taken to hold as much as those that do.
    const double scale = group.mass_g / sums.listed_g;
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
  double silver = 0.0;
  for (const auto& [pile, sums] : group.piles) {
    silver += sums.second;
  }
  for (std::size_t k = 0; k < summary.piles.size(); ++k) {
    if (const auto match = group.piles.find(summary.piles[k].pile); match != group.piles.end()) {
      d.pile_share.emplace_back(k, silver > 0.0 ? match->second.second / silver : match->second.first / d.mass_g);
    }
  }
  return d;
}

class Simulation
{
 public:
  Simulation(const std::vector<Drawn>& groups, int hypotheses) : groups_(groups), departure_(hypotheses) {}

  // The recipe of each material departs alike wherever it occurs in the jar.
  void next()
  {
    for (double& z : departure_) {
      z = normal();
    }
  }
  double normal()
  {
    const double radius = std::sqrt(-2.0 * std::log(1.0 - uniform()));
    return radius * std::cos(2.0 * M_PI * uniform());
  }
  // All rows of the group are one material.
  Grams alike(const Drawn& d)
  {
    Grams grams{};
    add(d, pick(d), 1.0, grams);
    return grams;
  }
  // Each row is a material of its own.
  Grams apart(const Drawn& d)
  {
    Grams grams{};
    if (d.rows <= drawn_singly_up_to) {
      const double rows = std::max(1.0, std::round(d.rows));
      for (int i = 0; i < static_cast<int>(rows); ++i) {
        add(d, pick(d), 1.0 / rows, grams);
      }
      return grams;
    }
    for (std::size_t k = 0; k < d.up_to.size(); ++k) {
      add(d, k, d.up_to[k] - (k > 0 ? d.up_to[k - 1] : 0.0), grams);
    }
    const double z = normal();
    for (std::size_t m = 0; m < grams.size(); ++m) {
      grams[m] = std::clamp(grams[m] + z * d.sd_between[m] / std::sqrt(d.rows), 0.0, d.mass_g);
    }
    return grams;
  }

 private:
  double uniform() { return static_cast<double>(random_() >> 11) * 0x1p-53; }
  std::size_t pick(const Drawn& d)
  {
    const auto match = std::lower_bound(d.up_to.begin(), d.up_to.end(), uniform());
    return std::min<std::size_t>(static_cast<std::size_t>(match - d.up_to.begin()), d.up_to.size() - 1);
  }
  // Log-normal about the mean: never below nothing, and at most all of it.
  void add(const Drawn& d, std::size_t k, double share, Grams& grams) const
  {
    for (std::size_t m = 0; m < grams.size(); ++m) {
      const double mean = d.mean_g[k][m];
      if (mean > 0.0) {
        const double relative = d.sd_g[k][m] / mean;
        const double variance = std::log1p(relative * relative);
        const double z = departure_[static_cast<std::size_t>(d.hypothesis[k])];
        grams[m] += share * std::min(d.mass_g, mean * std::exp(std::sqrt(variance) * z - 0.5 * variance));
      }
    }
  }

  const std::vector<Drawn>& groups_;
  std::vector<double> departure_;
  std::mt19937_64 random_{20240601U};
};

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

Draws draw_all(const std::vector<Drawn>& groups, std::size_t piles, std::size_t lots, double common_u_g,
               const Prices& prices)
{
  Draws draws;
  draws.piles.resize(piles);
  draws.lots.resize(lots);
  int hypotheses = 0;
  for (const Drawn& d : groups) {
    hypotheses = std::max(hypotheses, 1 + *std::max_element(d.hypothesis.begin(), d.hypothesis.end()));
  }
  const std::array<double, 4> per_g = prices_of(prices);
  Simulation simulation(groups, hypotheses);
  const long count = std::clamp(draws_and_groups / static_cast<long>(groups.size()), fewest_draws, most_draws);
  std::vector<double> pile_g(piles);
  for (long i = 0; i < count; ++i) {
    simulation.next();
    Grams alike{};
    Grams apart{};
    std::fill(pile_g.begin(), pile_g.end(), 0.0);
    for (std::size_t g = 0; g < groups.size(); ++g) {
      const Grams one = simulation.alike(groups[g]);
      // A lot is one material by the user's word.
      const Grams other = g < lots ? one : simulation.apart(groups[g]);
      for (std::size_t m = 0; m < one.size(); ++m) {
        alike[m] += one[m];
        apart[m] += other[m];
      }
      for (const auto& [pile, share] : groups[g].pile_share) {
        pile_g[pile] += share * one[0];
      }
      if (g < lots) {
        draws.lots[g].push_back(one[0]);
      }
    }
    const double common = common_u_g * simulation.normal();
    alike[0] = std::max(0.0, alike[0] + common);
    apart[0] = std::max(0.0, apart[0] + common);
    double price = 0.0;
    for (std::size_t m = 0; m < alike.size(); ++m) {
      draws.alike[m].push_back(alike[m]);
      draws.apart[m].push_back(apart[m]);
      price += per_g[m] * alike[m];
    }
    draws.price.push_back(price);
    draws.worth.push_back(price * prices.pays);
    for (std::size_t k = 0; k < piles; ++k) {
      draws.piles[k].push_back(pile_g[k]);
    }
  }
  return draws;
}

}  // namespace

void add_totals(const std::vector<Jar::Group>& groups, double common_u_g, const JarOptions& options,
                JarSummary& summary)
{
  for (const char* metal : jar_metals) {
    summary.metals.push_back({metal, {}, {}});
  }
  std::vector<Drawn> drawn;
  for (const Jar::Group& group : groups) {
    drawn.push_back(drawn_from(group, summary));
    if (!group.lot.empty()) {
      LotTotal& lot = summary.lots.emplace_back(LotTotal{group.lot, group.rows, group.pieces, group.mass_g, {}});
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
  Draws draws = draw_all(drawn, summary.piles.size(), summary.lots.size(), common_u_g, options.prices);
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
    summary.worth = band_of(draws.worth, options.level);
    summary.metal_price = band_of(draws.price, options.level).median;
  }
}

}  // namespace bilancetta
