// Weighing and bench of the simulated world. Sizes of the errors are judgement, near those of the class of scale but
// not the program's defaults.
#include "world.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace world
{
namespace
{

struct Errors {
  double step_g, reading_sd_g, bubble_g_cm2;
};

// Repeatability and linearity together, both taken as normal.
Errors errors_of(const Reading& reading)
{
  Errors errors{};
  errors.step_g = reading.jeweller ? 0.001 : 0.01;
  errors.reading_sd_g = reading.jeweller ? std::hypot(0.0012, 0.0007) : std::hypot(0.005, 0.003);
  errors.bubble_g_cm2 = reading.soaped ? 0.00012 : 0.00022;
  return errors;
}

constexpr double air = 0.00119, warmest_guess_c = 20.5, temperature_sd_c = 2.4;

// Water between 10 and 30 C, from memory: 0.99820 at 20 C, falling 2.07e-4 per kelvin and faster as it warms.
double water_g_cm3(double celsius)
{
  const double above = celsius - 20.0;
  return 0.99820 - 2.07e-4 * above - 4.9e-6 * above * above;
}

double buoyed(double mass_g, double density)
{
  return mass_g * (1.0 - air / density) / (1.0 - 0.0012 / 8.0);
}

double rounded(double value, double step)
{
  return std::round(value / step) * step;
}

// Bubbles cover what is wetted; mean on a surface of 8 V^(2/3).
double bubble_mean_g(const Errors& errors, double volume_cm3)
{
  return errors.bubble_g_cm2 * 8.0 * std::cbrt(volume_cm3 * volume_cm3);
}

double normal_cdf(double x)
{
  return 0.5 * std::erfc(-x / std::numbers::sqrt2);
}

/// Distribution of a normal error plus an exponential one of mean tau, at x.
double sum_cdf(double x, double sd, double tau)
{
  const double exponent = -x / tau + 0.5 * sd * sd / (tau * tau);
  const double z = x / sd - sd / tau;
  // For large negative z the product below underflows in its second factor first; the bound stands for it.
  const double tail = exponent > 600.0 ? 0.0 : std::exp(exponent) * normal_cdf(z);
  return std::clamp(normal_cdf(x / sd) - tail, 0.0, 1.0);
}

/// What is expected of the rise without bubbles, and its normal error.
struct Expected {
  double rise_g, sd_g, bubble_g;
};

Expected expected_of(const Reading& reading, double density)
{
  const Errors errors = errors_of(reading);
  const double dry_sd = std::hypot(errors.reading_sd_g, errors.step_g / std::sqrt(12.0));
  const double volume = reading.dry_g * (1.0 - 0.0012 / 8.0) / (density - air);
  const double water = water_g_cm3(warmest_guess_c);
  Expected expected{};
  // The scale's own adjustment in air stretches the rise as it does the dry reading; air is displaced by the water.
  expected.rise_g = volume * (water - air) / (1.0 - 0.0012 / 8.0);
  expected.sd_g = std::hypot(errors.reading_sd_g, dry_sd / density, volume * 2.1e-4 * temperature_sd_c);
  expected.bubble_g = bubble_mean_g(errors, volume);
  return expected;
}

Reading weigh(const Piece& piece, Random& random)
{
  Reading reading;
  reading.jeweller = std::bernoulli_distribution(0.5)(random);
  reading.soaped = std::bernoulli_distribution(0.6)(random);
  const Errors errors = errors_of(reading);
  std::normal_distribution<double> error(0.0, errors.reading_sd_g);
  const double celsius = std::normal_distribution<double>(warmest_guess_c, temperature_sd_c)(random);
  const double volume = piece.mass_g / piece.density_g_cm3;
  const double bubbles = std::exponential_distribution<double>(1.0 / bubble_mean_g(errors, volume))(random);
  const double rise = volume * (water_g_cm3(celsius) - air) / (1.0 - 0.0012 / 8.0);
  reading.dry_g = rounded(buoyed(piece.mass_g, piece.density_g_cm3) + error(random), errors.step_g);
  reading.rise_g = rounded(rise + bubbles + error(random), errors.step_g);
  return reading;
}

std::string wrong_word(const std::string& right, const std::vector<std::string>& words, Random& random)
{
  std::string word = right;
  while (word == right) {
    word = words[std::uniform_int_distribution<std::size_t>(0, words.size() - 1)(random)];
  }
  return word;
}

/// The stronger pull of two.
std::string pull_of(const std::string& one, const std::string& two)
{
  for (const char* word : {"strong", "weak"}) {
    if (one == word || two == word) {
      return word;
    }
  }
  return "no-pull";
}

}  // namespace

Bench draw_bench(const Piece& piece, Random& random)
{
  Bench bench;
  bench.magnet = draw_magnet(piece.outer, random);
  if (piece.inner != piece.outer) {
    bench.magnet = pull_of(bench.magnet, draw_magnet(piece.inner, random));
  }
  bench.skin_reagent = draw_reagent(piece.outer, random);
  // A notch goes through a coat; in the face of an inlay it shows the face. On one substance the drop tells the same
  // colour twice, more often than not.
  if (piece.build == Build::plated) {
    bench.notch_reagent = draw_reagent(piece.inner, random);
  } else {
    const bool same = std::bernoulli_distribution(0.6)(random);
    bench.notch_reagent = same ? bench.skin_reagent : draw_reagent(piece.outer, random);
  }
  const bool two_metals = piece.inner != piece.outer && piece.build != Build::plated;
  bench.sides = draw_word(piece.build == Build::inlay ? "differ 97 alike 3"
                          : two_metals                ? "differ 50 alike 50"
                                                      : "alike 97 differ 3",
                          random);
  static const std::vector<std::string> colours{"bright-red", "dark-red", "red",   "brown", "green",
                                                "blue",       "yellow",   "black", "grey",  "no-reaction"};
  std::bernoulli_distribution mistaken(0.05);
  const auto spoil = [&](std::string& answer, const std::vector<std::string>& words) {
    if (mistaken(random)) {
      answer = wrong_word(answer, words, random);
    }
  };
  spoil(bench.magnet, {"no-pull", "weak", "strong"});
  spoil(bench.skin_reagent, colours);
  spoil(bench.notch_reagent, colours);
  spoil(bench.sides, {"alike", "differ"});
  return bench;
}

Piece draw_piece(Random& random)
{
  std::discrete_distribution<std::size_t> choose(place_weights().begin(), place_weights().end());
  for (;;) {
    Piece piece = draw_made(places()[choose(random)], lightest_g, heaviest_g, random);
    piece.reading = weigh(piece, random);
    if (piece.reading.rise_g >= 0.5 * errors_of(piece.reading).step_g) {  // else nobody would type it
      piece.bench = draw_bench(piece, random);
      return piece;
    }
  }
}

double likelihood(const Reading& reading, double density_g_cm3)
{
  const Errors errors = errors_of(reading);
  const Expected expected = expected_of(reading, density_g_cm3);
  const double over = reading.rise_g - expected.rise_g;
  const double half = 0.5 * errors.step_g;
  return std::max(0.0, sum_cdf(over + half, expected.sd_g, expected.bubble_g) -
                           sum_cdf(over - half, expected.sd_g, expected.bubble_g));
}

std::array<double, 2> density_bounds(const Reading& reading)
{
  double highest = 0.0;
  constexpr int steps = 3000;
  const auto at = [](int i) { return 0.3 * std::pow(30.0 / 0.3, static_cast<double>(i) / steps); };
  for (int i = 0; i <= steps; ++i) {
    highest = std::max(highest, likelihood(reading, at(i)));
  }
  int low = 0, high = steps;
  while (low < high && likelihood(reading, at(low)) < 1e-8 * highest) {
    ++low;
  }
  while (high > low && likelihood(reading, at(high)) < 1e-8 * highest) {
    --high;
  }
  return {at(std::max(0, low - 1)), at(std::min(steps, high + 1))};
}

}  // namespace world
