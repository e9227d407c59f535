#include "bilancetta/density.hpp"

#include <algorithm>
#include <cmath>

#include "words.hpp"

namespace bilancetta
{

namespace
{

constexpr double well_explained = 1e-2;       // likelihood over the highest
constexpr double platinum_from_g_cm3 = 20.0;  // only platinum, iridium, osmium and their alloys

// Mass of each cell of the curve under "every density from the lowest equally likely", and its ends in density.
template <typename Use>
void for_each_cell(const DensityCurve& curve, double lowest_g_cm3, Use use)
{
  const double difference = curve.liquid_g_cm3 - curve.air_g_cm3;
  const auto point_of = [&](double density) {
    return (difference / (density - curve.air_g_cm3) - curve.first_share) / curve.share_step;
  };
  const double first = std::max(point_of(density_grid::highest_g_cm3), 0.0);
  const double last = std::min(point_of(lowest_g_cm3), static_cast<double>(curve.likelihood.size()) - 1.0);
  double upper = curve.density_at(first);  // each cell begins where the one before ended
  const auto use_from = [&](double from, double to, auto likelihood_at) {
    const double lower = curve.density_at(to);
    use(lower, upper, likelihood_at(to), likelihood_at(from));
    upper = lower;
  };
  for (int j = static_cast<int>(first); j < last; ++j) {
    const double from = std::max(first, static_cast<double>(j));
    const double to = std::min(last, j + 1.0);
    const auto likelihood_at = [&](double point) {
      return curve.likelihood[j] + (point - j) * (curve.likelihood[j + 1] - curve.likelihood[j]);
    };
    // A cell may span many densities (a tiny piece): it is taken in parts of at most 5 % each.
    constexpr double most_ratio = 1.05;
    if (curve.share_at(to) <= most_ratio * curve.share_at(from)) {
      use_from(from, to, likelihood_at);
      continue;
    }
    const double ratio = curve.share_at(to) / curve.share_at(from);
    const int parts = 1 + static_cast<int>(std::log(ratio) / std::log(most_ratio));
    double here = from;
    for (int part = 1; part <= parts; ++part) {
      const double share = curve.share_at(from) * std::pow(ratio, static_cast<double>(part) / parts);
      const double next = part == parts ? to : (share - curve.first_share) / curve.share_step;
      use_from(here, next, likelihood_at);
      here = next;
    }
  }
}

// Cells from the densest down, with the mass passed at the end of each: quantiles are then a walk over numbers.
class Cells
{
 public:
  explicit Cells(const DensityCurve& curve)
  {
    cells_.reserve(curve.likelihood.size() + 32);
    for_each_cell(curve, density_grid::lowest_g_cm3, [&](double lower, double upper, double at_lower, double at_upper) {
      const double mass = 0.5 * (at_lower + at_upper) * (upper - lower);
      total_ += mass;
      highest_ = std::max(highest_, at_upper);
      cells_.push_back({lower, upper, at_lower, at_upper, total_, mass});
    });
  }
  // Do the readings allow any density that is considered? The curve's highest is 1.
  [[nodiscard]] bool possible() const { return highest_ >= well_explained; }

  struct Moments {
    double mean, standard_deviation;
  };
  [[nodiscard]] Moments moments() const
  {
    double first = 0.0;
    double second = 0.0;
    for (const Cell& c : cells_) {
      const double middle = 0.5 * (c.lower + c.upper);
      first += c.mass * middle;
      second += c.mass * middle * middle;
    }
    const double mean = first / total_;
    return {mean, std::sqrt(std::max(second / total_ - mean * mean, 0.0))};
  }
  // Likelihood of the heaviest density that is considered, if the cells reach it.
  [[nodiscard]] double at_densest() const
  {
    return cells_.front().upper > 0.9999 * density_grid::highest_g_cm3 ? cells_.front().at_upper : 0.0;
  }

  // Density below which this share of the mass lies.
  [[nodiscard]] double quantile(double probability) const
  {
    const double above = (1.0 - probability) * total_;
    const auto next =
        std::partition_point(cells_.begin(), cells_.end(), [&](const Cell& c) { return c.passed < above; });
    if (next == cells_.end()) {
      return density_grid::lowest_g_cm3;
    }
    // Inside the cell the likelihood is linear; solve the quadratic for the wanted share.
    const double want = (above - (next->passed - next->mass)) / (next->upper - next->lower);
    const double slope = next->at_lower - next->at_upper;
    const double root = std::sqrt(std::max(next->at_upper * next->at_upper + 2.0 * slope * want, 1e-300));
    const double t = 2.0 * want / (next->at_upper + root);
    return next->upper - std::clamp(t, 0.0, 1.0) * (next->upper - next->lower);
  }

 private:
  struct Cell {
    double lower, upper, at_lower, at_upper;
    double passed;  // mass from the densest to the end of this one
    double mass;    // its own
  };
  std::vector<Cell> cells_;
  double total_ = 0.0, highest_ = 0.0;
};

}  // namespace

DensitySummary summary_of(const DensityCurve& curve, const Weighing& weighing, double level)
{
  const Cells cells(curve);
  DensitySummary s;
  s.level = level;
  if (cells.possible()) {
    s.value = cells.quantile(0.5);
    s.standard_uncertainty = cells.moments().standard_deviation;
    s.low = cells.quantile(0.5 - 0.5 * level);
    s.high = cells.quantile(0.5 + 0.5 * level);
    // Is the heaviest density still well explained? Above gold and tungsten that tells enough.
    s.bounded = cells.at_densest() < well_explained || s.low > platinum_from_g_cm3;
  } else {
    s.possible = false;  // too heavy, or lighter than 0.5
    s.bounded = curve.share_at(static_cast<double>(curve.likelihood.size()) - 1.0) > 0.5;
    s.value = s.low = s.high = s.bounded ? density_grid::lowest_g_cm3 : density_grid::highest_g_cm3;
  }
  s.high = s.bounded ? s.high : density_grid::highest_g_cm3;
  Displacement d = displacement_of(weighing.readings);
  d.displaced_g += weighing.shared ? weighing.shared->displaced_shift_g : 0.0;
  if (d.displaced_g > 0.0) {
    s.plain = density_from(d.dry_g, d.displaced_g, curve.liquid_g_cm3, curve.air_g_cm3);
    s.relative_density = d.dry_g / d.displaced_g;
  }
  return s;
}

int decimals_supported_by(double standard_uncertainty)
{
  return std::clamp(static_cast<int>(std::ceil(-std::log10(std::max(standard_uncertainty, 1e-9) / 3.0))), 0, 6);
}

namespace
{

constexpr double nearly_none = 1e-9;  // of a step: what is binary only

}  // namespace

std::string low_end(double low, int decimals)
{
  const double steps = std::pow(10.0, decimals);
  return fixed(std::floor(low * steps + nearly_none) / steps, decimals);
}

std::string high_end(double high, int decimals)
{
  const double steps = std::pow(10.0, decimals);
  return fixed(std::ceil(high * steps - nearly_none) / steps, decimals);
}

GridFunction weights_on_grid(const DensityCurve& curve)
{
  const double first_density = density_grid::density_at(0);
  double lightest = density_grid::highest_g_cm3;
  double heaviest = first_density;
  for_each_cell(curve, first_density, [&](double lower, double upper, double, double) {
    lightest = std::min(lightest, lower);
    heaviest = std::max(heaviest, upper);
  });
  if (lightest >= heaviest) {
    return {0, {0.0F}};
  }
  // With room for the splines' outer nodes, one of them beyond the grid at its ends.
  const int first = static_cast<int>(std::floor(density_grid::position_of(lightest))) - 1;
  const int last = static_cast<int>(std::floor(density_grid::position_of(heaviest))) + 2;
  std::vector<double> weight(last - first + 1, 0.0);
  for_each_cell(curve, first_density, [&](double lower, double upper, double at_lower, double at_upper) {
    // Pieces no wider than half a node spacing.
    const int pieces = 1 + static_cast<int>((upper - lower) / lower / (0.5 * density_grid::spacing));
    const double width = (upper - lower) / pieces;
    for (int k = 0; k < pieces; ++k) {
      const double t = (k + 0.5) / pieces;
      const double mass = width * (at_lower + t * (at_upper - at_lower));
      const double place = density_grid::position_of(lower + t * (upper - lower)) - first;
      const auto node = std::clamp(static_cast<int>(place), 1, last - first - 2);
      const auto share = density_grid::spline_shares(place - node);
      for (int j = 0; j < 4; ++j) {
        weight[node - 1 + j] += mass * share[j];
      }
    }
  });
  const int below = std::max(-first, 0);
  const int above = std::max(last - (density_grid::nodes - 1), 0);
  return {first + below, {weight.begin() + below, weight.end() - above}};
}

namespace
{

// Positions on the grid between which the likelihood is above a 100,000th of its highest.
struct Span {
  double low, high;
};
Span span_that_matters(const DensityCurve& curve)
{
  constexpr double negligible = 1e-5;
  const auto matters = [](double likelihood) { return likelihood > negligible; };
  const auto& all = curve.likelihood;
  const auto first = std::max<std::ptrdiff_t>(std::find_if(all.begin(), all.end(), matters) - all.begin() - 1, 0);
  const auto last = std::min<std::ptrdiff_t>(all.rend() - std::find_if(all.rbegin(), all.rend(), matters),
                                             static_cast<std::ptrdiff_t>(all.size()) - 1);
  const double difference = curve.liquid_g_cm3 - curve.air_g_cm3;
  const auto place_of = [&](std::ptrdiff_t point) {
    const double least_share = difference / (density_grid::highest_g_cm3 - curve.air_g_cm3);
    const double density =
        curve.air_g_cm3 + difference / std::max(curve.share_at(static_cast<double>(point)), least_share);
    return std::clamp(density_grid::position_of(density), 0.0, density_grid::nodes - 1.0);
  };
  return {place_of(last), place_of(first)};
}

// Values at nodes shared out by splines, as weights_on_grid lays what is between them.
void share_by_splines(std::vector<float>& value)
{
  const auto [before_part, own, after_part, none] = density_grid::spline_shares(0.0);
  float before = 0.0F;
  for (std::size_t i = 0; i < value.size(); ++i) {
    const float here = value[i];
    const float after = i + 1 < value.size() ? value[i + 1] : 0.0F;
    value[i] = static_cast<float>(before_part * before + own * here + after_part * after);
    before = here;
  }
}

}  // namespace

LevelWeights weights_on_level(const DensityCurve& curve, int most_nodes, int finest, double widest, NodeRange within)
{
  const Span whole = span_that_matters(curve);
  const double low = std::max(whole.low, static_cast<double>(within.first));
  const double high = std::max(low, std::min(whole.high, static_cast<double>(within.last)));
  LevelWeights weights;
  weights.level = finest;
  // In displaced share, as in density, the range is (1 - exp(-its logarithm)) of its larger end.
  const double widest_step = widest * (1.0 - std::exp(-density_grid::spacing * (high - low))) / density_grid::spacing;
  while (weights.level + 1 < density_grid::levels && high - low > static_cast<double>(most_nodes << weights.level) &&
         static_cast<double>(2 << weights.level) <= widest_step) {
    ++weights.level;
  }
  const double step = static_cast<double>(1 << weights.level);
  // A curve narrower than this may have edges between two nodes.
  constexpr double narrow = 16.0;
  if (weights.level == finest && whole.high - whole.low < narrow * step) {
    weights.nodes = weights_on_grid(curve);
    weights.area = weights.nodes.sum();
    for (int level = 0; level < finest; ++level) {
      weights.nodes = halved(weights.nodes);
    }
    weights.nodes = in_eights(weights.nodes);
    return weights;
  }
  const double difference = curve.liquid_g_cm3 - curve.air_g_cm3;
  const auto& all = curve.likelihood;
  weights.nodes.first = std::max(static_cast<int>(std::floor(low / step)) - 1, 0);
  const int count = static_cast<int>(std::ceil(high / step)) + 1 - weights.nodes.first + 1;
  weights.nodes.value.resize(count);
  const double ratio = std::exp(density_grid::spacing * step);
  const double per_share = 1.0 / curve.share_step;
  double density = density_grid::density_at(weights.nodes.first << weights.level);
  for (int i = 0; i < count; ++i, density *= ratio) {
    const double place = (difference / (density - curve.air_g_cm3) - curve.first_share) * per_share;
    const int point = std::clamp(static_cast<int>(place), 0, static_cast<int>(all.size()) - 2);
    const double likelihood = std::max(all[point] + (place - point) * (all[point + 1] - all[point]), 0.0);
    const double mass = likelihood * density * density_grid::spacing * step;
    weights.area += mass;
    weights.nodes.value[i] = static_cast<float>(weights.level == finest ? mass : likelihood);
  }
  if (weights.level == finest) {
    share_by_splines(weights.nodes.value);
  }
  weights.nodes = in_eights(weights.nodes);
  return weights;
}

}  // namespace bilancetta
