#include "world_referee.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace world
{
namespace
{

int index_of(const std::vector<std::string>& words, const std::string& word)
{
  const auto found = std::find(words.begin(), words.end(), word);
  if (found == words.end()) {
    throw std::logic_error("no such answer: " + word);
  }
  return static_cast<int>(found - words.begin());
}

/// A function of density on even nodes between bounds.
class Curve
{
 public:
  explicit Curve(const Reading& reading) : bounds_(density_bounds(reading)), value_(801)
  {
    const auto last = static_cast<double>(value_.size() - 1);
    step_ = (bounds_[1] - bounds_[0]) / last;
    for (std::size_t i = 0; i < value_.size(); ++i) {
      value_[i] = likelihood(reading, bounds_[0] + step_ * static_cast<double>(i));
    }
  }
  [[nodiscard]] const std::array<double, 2>& bounds() const { return bounds_; }
  [[nodiscard]] double at(double density) const
  {
    const double place = (density - bounds_[0]) / step_;
    const auto node = std::min(static_cast<std::size_t>(std::max(place, 0.0)), value_.size() - 2);
    const double part = place - static_cast<double>(node);
    return (1.0 - part) * value_[node] + part * value_[node + 1];
  }

 private:
  std::array<double, 2> bounds_;
  double step_ = 0.0;
  std::vector<double> value_;
};

constexpr int bins = 4096;  // even in the square root of the fraction

/// Quantiles for rising probabilities of a histogram with a mass at 0, from its running sums.
double quantile_of(double zero, const std::vector<double>& running, double probability)
{
  const double wanted = probability * running.back();
  if (wanted <= zero) {
    return 0.0;
  }
  const auto bin = std::lower_bound(running.begin(), running.end(), wanted) - running.begin();
  const double before = bin > 0 ? running[bin - 1] : zero;
  const double mass = running[bin] - before;
  const double edge = (static_cast<double>(bin) + (mass > 0.0 ? (wanted - before) / mass : 0.5)) / bins;
  return edge * edge;
}

}  // namespace

int Referee::mass_class(double dry_g)
{
  const double part = std::log(dry_g / lightest_g) / std::log(heaviest_g / lightest_g);
  return std::clamp(static_cast<int>(part * mass_classes), 0, mass_classes - 1);
}

std::size_t AnswerCounts::cell_of(const Bench& bench)
{
  static const std::vector<std::string> pulls{"no-pull", "weak", "strong"};
  static const std::vector<std::string> colours{"bright-red", "dark-red", "red",   "brown", "green",
                                                "blue",       "yellow",   "black", "grey",  "no-reaction"};
  const int skin = index_of(colours, bench.skin_reagent);
  const int notch = index_of(colours, bench.notch_reagent);
  const int sides = bench.sides == "differ" ? 1 : 0;
  const int cell = ((index_of(pulls, bench.magnet) * 10 + skin) * 10 + notch) * 2 + sides;
  return static_cast<std::size_t>(cell);
}

// Half a count in each cell keeps answers that were never drawn possible.
int AnswerCounts::row_of(const Piece& piece, Random& random)
{
  const auto [row, fresh] =
      rows_.try_emplace({piece.outer, piece.inner, static_cast<int>(piece.build)}, static_cast<int>(odds_.size()));
  if (fresh) {
    constexpr int tries = 20000;
    Odds odds{};
    std::fill(odds.begin(), odds.end(), 0.5F / static_cast<float>(tries));
    for (int i = 0; i < tries; ++i) {
      odds[cell_of(draw_bench(piece, random))] += 1.0F / static_cast<float>(tries);
    }
    odds_.push_back(odds);
  }
  return row->second;
}

Referee::Referee(const std::string& place, int mass_class, int pieces, AnswerCounts& counts, Random& random)
    : counts_(&counts)
{
  const double ratio = std::pow(heaviest_g / lightest_g, 1.0 / mass_classes);
  const double low = lightest_g * std::pow(ratio, mass_class);
  drawn_.reserve(pieces);
  for (int i = 0; i < pieces; ++i) {
    const Piece piece = draw_made(place, low, low * ratio, random);
    drawn_.push_back({static_cast<float>(piece.density_g_cm3),
                      piece.silver > 0.0 ? static_cast<float>(std::sqrt(piece.silver)) : -1.0F,
                      counts.row_of(piece, random), piece.build, piece.cadmium >= cadmium_from});
  }
  std::sort(drawn_.begin(), drawn_.end(), [](const Drawn& a, const Drawn& b) { return a.density < b.density; });
}

bool Referee::explains(const Reading& reading) const
{
  const Curve curve(reading);
  return std::any_of(drawn_.begin(), drawn_.end(), [&](const Drawn& d) {
    return d.density >= curve.bounds()[0] && d.density < curve.bounds()[1] && curve.at(d.density) > 0.0;
  });
}

Belief Referee::belief(const Reading& reading, const Bench* bench) const
{
  const Curve curve(reading);
  const std::size_t cell = bench != nullptr ? AnswerCounts::cell_of(*bench) : 0;
  const auto by_density = [](const Drawn& d, double density) { return d.density < density; };
  auto at = std::lower_bound(drawn_.begin(), drawn_.end(), curve.bounds()[0], by_density);
  const auto end = std::lower_bound(at, drawn_.end(), curve.bounds()[1], by_density);
  Belief belief;
  double zero = 0.0;
  double whole = 0.0;
  std::vector<double> bin(bins, 0.0);
  for (; at != end; ++at) {
    const double weight = curve.at(at->density) * (bench != nullptr ? counts_->probability(at->kind, cell) : 1.0);
    whole += weight;
    belief.builds[static_cast<std::size_t>(at->build)] += weight;
    belief.cadmium += at->cadmium ? weight : 0.0;
    if (at->silver_root < 0.0F) {
      zero += weight;
    } else {
      bin[std::min(bins - 1, static_cast<int>(at->silver_root * bins))] += weight;
    }
  }
  if (whole <= 0.0) {
    throw std::runtime_error("no piece of the referee explains the readings: it needs more of them");
  }
  for (double& share : belief.builds) {
    share /= whole;
  }
  belief.cadmium /= whole;
  double sum = zero;
  for (double& value : bin) {
    value = sum += value;
  }
  belief.set_silver([&](double probability) { return quantile_of(zero, bin, probability); });
  return belief;
}

}  // namespace world
