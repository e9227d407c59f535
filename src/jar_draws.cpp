#include "jar_draws.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <numeric>
#include <span>

#include "normal_bank.hpp"

namespace bilancetta
{

namespace
{

std::uint64_t scattered(std::uint64_t key)
{
  key += 0x9e3779b97f4a7c15U;
  key = (key ^ (key >> 30U)) * 0xbf58476d1ce4e5b9U;
  key = (key ^ (key >> 27U)) * 0x94d049bb133111ebU;
  return key ^ (key >> 31U);
}

// One variable: which of the draws has which part of its distribution. Each step can be undone, so that none has two.
class Shuffle
{
 public:
  Shuffle(std::uint64_t variable, std::size_t draws)
      : mask_(static_cast<std::uint32_t>(draws - 1)), half_(static_cast<std::uint32_t>(std::bit_width(draws)) / 2)
  {
    for (std::uint32_t r = 0; r < rounds; ++r) {
      const std::uint64_t key = scattered(variable * rounds + r);
      factor_[r] = static_cast<std::uint32_t>(key) | 1U;
      term_[r] = static_cast<std::uint32_t>(key >> 32U);
    }
    begin_ = static_cast<double>(scattered(~variable) >> 11U) * 0x1p-53;
  }
  [[nodiscard]] std::uint32_t operator()(std::uint32_t i) const
  {
    for (std::uint32_t r = 0; r < rounds; ++r) {
      i = (i * factor_[r] + term_[r]) & mask_;
      i ^= i >> half_;
    }
    return i;
  }
  // Where in each part the draw lies, 0 to 1.
  [[nodiscard]] double begin() const { return begin_; }

 private:
  static constexpr std::uint32_t rounds = 3;

  std::uint32_t mask_, half_;
  std::array<std::uint32_t, rounds> factor_{}, term_{};
  double begin_ = 0.0;
};

}  // namespace

void Many::add(const Drawn& d)
{
  for (std::size_t m = 0; m < mean_g.size(); ++m) {
    mean_g[m] += d.mean_of_all[m];
    const double of_mass = d.mass_relative_u * d.mean_of_all[m];
    variance[m] += d.sd_between[m] * d.sd_between[m] / d.rows + of_mass * of_mass;
    for (std::size_t k = 0; k < d.up_to.size(); ++k) {
      const auto h = static_cast<std::size_t>(d.hypothesis[k]);
      sd_g.resize(std::max(sd_g.size(), h + 1));
      sd_g[h][m] += d.probability(k) * d.sd_g[k][m];
    }
  }
}

Simulation::Simulation(int order) : normal_(std::size_t{1} << static_cast<unsigned>(order))
{
  for (std::size_t i = 0; i < normal_.size(); ++i) {
    normal_[i] = inverse_normal((static_cast<double>(i) + 0.5) / static_cast<double>(normal_.size()));
  }
}

// Log-normal about the mean: never below nothing, and at most all of it, whose mass is as uncertain as it was read.
void Simulation::alike(const Drawn& d, double share, Columns& to)
{
  const Shuffle draw_of(next_variable(), draws());
  const Shuffle mass_of(next_variable(), draws());
  std::uint32_t part = 0;
  for (std::size_t k = 0; k < d.up_to.size(); ++k) {
    const double end_of_k = std::ceil(d.up_to[k] * static_cast<double>(draws()) - draw_of.begin());
    const auto end = k + 1 == d.up_to.size() ? static_cast<std::uint32_t>(draws())
                                             : static_cast<std::uint32_t>(std::max(0.0, end_of_k));
    if (end <= part) {
      continue;
    }
    const Shuffle departure_of(static_cast<std::uint64_t>(d.hypothesis[k]), draws());
    for (std::size_t m = 0; m < to.size(); ++m) {
      const double mean = d.mean_g[k][m];
      if (mean <= 0.0) {
        continue;
      }
      const double relative = d.sd_g[k][m] / mean;
      const double variance = std::log1p(relative * relative);
      const double sd = std::sqrt(variance);
      for (std::uint32_t i = part; i < end; ++i) {
        const std::uint32_t draw = draw_of(i);
        const double factor = sd > 0.0 ? std::exp(sd * normal_[departure_of(draw)] - 0.5 * variance) : 1.0;
        const double mass = std::max(0.0, 1.0 + d.mass_relative_u * normal_[mass_of(draw)]);
        to[m][draw] += share * mass * std::min(d.mass_g, mean * factor);
      }
    }
    part = end;
  }
}

void Simulation::apart(const Drawn& d, Columns& to)
{
  const double rows = std::max(1.0, std::round(d.rows));
  Drawn one = d;
  one.mass_relative_u *= std::sqrt(rows);
  for (int i = 0; i < static_cast<int>(rows); ++i) {
    alike(one, 1.0 / rows, to);
  }
}

void Simulation::apart(const Many& many, Columns& to)
{
  for (std::size_t m = 0; m < to.size(); ++m) {
    const double sd = std::sqrt(many.variance[m]);
    std::vector<double> grams(draws(), many.mean_g[m]);
    const Shuffle draw_of(next_variable(), draws());
    for (std::uint32_t i = 0; i < draws(); ++i) {
      grams[draw_of(i)] += sd * normal_[i];
    }
    for (std::size_t h = 0; h < many.sd_g.size(); ++h) {
      if (many.sd_g[h][m] > 0.0) {
        const Shuffle departure_of(h, draws());
        for (std::uint32_t i = 0; i < draws(); ++i) {
          grams[i] += many.sd_g[h][m] * normal_[departure_of(i)];
        }
      }
    }
    for (std::size_t i = 0; i < draws(); ++i) {
      to[m][i] += std::max(0.0, grams[i]);
    }
  }
}

void Simulation::common(double sd, std::array<std::vector<double>*, 2> to)
{
  const Shuffle part_of(next_variable(), draws());
  for (std::vector<double>* column : to) {
    for (std::uint32_t i = 0; i < draws(); ++i) {
      (*column)[i] = std::max(0.0, (*column)[i] + sd * normal_[part_of(i)]);
    }
  }
}

namespace
{

// Puts these rising places, from..to holding all of them, as they would stand if all were sorted: the middle one first,
// as each of the others is then looked for in a part.
void put_in_place(std::vector<double>& values, std::size_t from, std::size_t to, std::span<const std::size_t> places)
{
  if (places.empty()) {
    return;
  }
  const std::size_t middle = places.size() / 2;
  const auto at = [&](std::size_t i) { return values.begin() + static_cast<std::ptrdiff_t>(i); };
  std::nth_element(at(from), at(places[middle]), at(to));
  put_in_place(values, from, places[middle], places.first(middle));
  put_in_place(values, places[middle] + 1, to, places.subspan(middle + 1));
}

}  // namespace

// That of n draws a share p lies below an end is true but for sqrt(p (1 - p) / n).
TotalBand band_of(std::vector<double>& draws, double level)
{
  const auto n = static_cast<double>(draws.size());
  std::vector<std::size_t> places;
  for (const double p : {0.5, 0.5 - 0.5 * level, 0.5 + 0.5 * level}) {
    for (const double off : {0.0, -1.0, 1.0}) {
      places.push_back(static_cast<std::size_t>(std::clamp(p * n + off * std::sqrt(p * (1.0 - p) * n), 0.0, n - 1.0)));
    }
  }
  std::vector<std::size_t> rising = places;
  std::sort(rising.begin(), rising.end());
  rising.erase(std::unique(rising.begin(), rising.end()), rising.end());
  TotalBand band;
  band.mean = std::accumulate(draws.begin(), draws.end(), 0.0) / n;
  put_in_place(draws, 0, draws.size(), rising);
  const auto fill = [&](std::size_t first, double& value, double& value_u) {
    value = draws[places[first]];
    value_u = 0.5 * (draws[places[first + 2]] - draws[places[first + 1]]);
  };
  fill(0, band.median, band.median_u);
  fill(3, band.low, band.low_u);
  fill(6, band.high, band.high_u);
  return band;
}

}  // namespace bilancetta
