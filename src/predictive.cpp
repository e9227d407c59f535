#include "predictive.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "vectorised.hpp"

namespace bilancetta
{

namespace
{

constexpr int most_cells = 384;

// Cells for all shares that can be read: the narrower of a prediction and the error of a reading is seen by 24, if
// `most_cells` allow it, and the wider by 96 or more.
int cells_for(const ShareReach& own, const ShareReach& error)
{
  const double wide = own.high - own.low + error.high - error.low;
  const double narrow = std::min(own.high - own.low, error.high - error.low);
  return static_cast<int>(std::clamp(24.0 * wide / std::max(narrow, 1e-9 * wide), 192.0, 1.0 * most_cells));
}

// Shares between which a predicted density is not negligible.
ShareReach shares_of(const DensityCurve& curve, const GridFunction& predicted)
{
  const float least = 1e-6F * *std::max_element(predicted.value.begin(), predicted.value.end());
  int low = 0;
  int high = static_cast<int>(predicted.value.size()) - 1;
  while (low < high && predicted.value[low] <= least) {
    ++low;
  }
  while (high > low && predicted.value[high] <= least) {
    --high;
  }
  const double difference = curve.liquid_g_cm3 - curve.air_g_cm3;
  return {difference / (density_grid::density_at(predicted.first + high + 1) - curve.air_g_cm3),
          difference / (density_grid::density_at(predicted.first + low - 1) - curve.air_g_cm3)};
}

// How far a reading may lie from its true share.
ShareReach errors_of(const DensityCurve& curve, double read_share)
{
  return {read_share - curve.share_at(static_cast<double>(curve.likelihood.size()) - 1.0),
          read_share - curve.share_at(0.0)};
}

// At a place among the points of the curve.
double likelihood_at(const DensityCurve& curve, double place)
{
  const int point = static_cast<int>(place);
  if (place < 0.0 || point + 1 >= static_cast<int>(curve.likelihood.size())) {
    return 0.0;
  }
  return curve.likelihood[point] + (place - point) * (curve.likelihood[point + 1] - curve.likelihood[point]);
}

// Probability of each cell of shares under a predicted density; they sum to 1.
std::vector<double> truth_by_cells(const DensityCurve& curve, const GridFunction& predicted, double first, double step,
                                   int cells)
{
  std::vector<double> truth(cells, 0.0);
  const double difference = curve.liquid_g_cm3 - curve.air_g_cm3;
  const double ratio = std::exp(density_grid::spacing);
  double truth_total = 0.0;
  const double per_step = 1.0 / step;
  double density = density_grid::density_at(predicted.first) / ratio;
  for (std::size_t i = 0; i < predicted.value.size(); ++i) {
    // Mass of a node: density x width of its cell, proportional to the density itself on a log grid.
    density *= ratio;
    const double place = (difference / (density - curve.air_g_cm3) - first) * per_step;
    const int cell = static_cast<int>(place);
    if (predicted.value[i] <= 0.0F || place < 0.0 || cell + 1 >= cells) {
      continue;
    }
    const double mass = predicted.value[i] * density;
    truth[cell] += mass * (1.0 - (place - cell));
    truth[cell + 1] += mass * (place - cell);
    truth_total += mass;
  }
  const double per_total = 1.0 / std::max(truth_total, 1e-300);
  for (double& mass : truth) {
    mass *= per_total;
  }
  return truth;
}

// The error of a reading by whole cells, from `reach_low` on; sums to 1. Likelihood of the true share
// read_share - error, at enough points of each cell.
std::vector<double> error_by_cells(const DensityCurve& curve, double read_share, double step, int reach_low,
                                   int reach_high)
{
  const int points = std::clamp(static_cast<int>(std::ceil(step / curve.share_step)), 1, 64);
  const double read_place = (read_share - curve.first_share) / curve.share_step;
  const double places = step / curve.share_step;  // from cell to cell
  std::vector<double> error(reach_high - reach_low + 1, 0.0);
  double error_total = 0.0;
  for (std::size_t cell = 0; cell < error.size(); ++cell) {
    for (int k = 0; k < points; ++k) {
      const double off = static_cast<double>(cell) + reach_low + (k + 0.5) / points - 0.5;
      error[cell] += likelihood_at(curve, read_place - off * places);
    }
    error_total += error[cell];
  }
  if (error_total <= 0.0) {  // narrower than any cell: the reading is its truth
    error[std::clamp<std::ptrdiff_t>(-reach_low, 0, static_cast<std::ptrdiff_t>(error.size()) - 1)] = error_total = 1.0;
  }
  const double per_total = 1.0 / error_total;
  for (double& value : error) {
    value *= per_total;
  }
  return error;
}

// Adds to `mass` a distribution of true shares by the error of a reading, which starts at cell `first_error`.
BILANCETTA_VECTORISED void spread(const std::vector<double>& truth, const std::vector<float>& off, int first_error,
                                  std::vector<float>& mass) noexcept
{
  const int cells = static_cast<int>(truth.size());
  for (int i = 0; i < cells; ++i) {
    const auto here = static_cast<float>(truth[i]);
    if (here <= 0.0F) {
      continue;
    }
    const int from = std::max(0, -(i + first_error));
    const int to = std::min(static_cast<int>(off.size()), cells - (i + first_error));
    float* out = mass.data() + (i + first_error);
    for (int k = from; k < to; ++k) {
      out[k] += here * off[k];
    }
  }
}

// Probability of readings whose own is at most `highest`: the mass changes evenly from cell to cell.
BILANCETTA_VECTORISED double sum_up_to(const std::vector<float>& mass, float highest) noexcept
{
  const float level = 1e-6F * highest + 1e-37F;  // a rise that is none
  const auto part_of = [&](float from, float to) {
    const float low = std::min(from, to);
    const float rise = std::abs(from - to);
    const float up = std::max(highest - low, 0.0F);
    return std::min(up / (rise + level), 1.0F) * (low + 0.5F * std::min(up, rise));
  };
  std::array<float, 8> sums{};
  const std::size_t steps = mass.size() - 1;
  std::size_t i = 0;
  for (; i + sums.size() <= steps; i += sums.size()) {
    for (std::size_t k = 0; k < sums.size(); ++k) {
      sums[k] += part_of(mass[i + k], mass[i + k + 1]);
    }
  }
  for (std::size_t k = 0; i < steps; ++i, ++k) {
    sums[k] += part_of(mass[i], mass[i + 1]);
  }
  return sum_of(sums.data(), sums.size());
}

}  // namespace

ShareReach Predictive::reach_of(const DensityCurve& curve, double read_share, const GridFunction& predicted)
{
  const ShareReach own = shares_of(curve, predicted);
  const ShareReach error = errors_of(curve, read_share);
  return {own.low + error.low, own.high + error.high};
}

Predictive::Predictive(const DensityCurve& curve, double read_share, const GridFunction& predicted)
{
  const ShareReach own = shares_of(curve, predicted);
  const ShareReach error = errors_of(curve, read_share);
  const int cells = cells_for(own, error);
  first_ = own.low + error.low;
  step_ = (own.high + error.high - first_) / (cells - 1);
  const int reach_low = static_cast<int>(std::floor(error.low / step_));
  const int reach_high = static_cast<int>(std::ceil(error.high / step_));
  const std::vector<double> off = error_by_cells(curve, read_share, step_, reach_low, reach_high);
  mass_.assign(static_cast<std::size_t>(cells), 0.0F);
  spread(truth_by_cells(curve, predicted, first_, step_, cells), {off.begin(), off.end()}, reach_low, mass_);
}

float Predictive::mass_at(double share) const
{
  const double place = (share - first_) / step_;
  const int cell = static_cast<int>(std::floor(place));
  if (cell < 0 || cell + 1 >= static_cast<int>(mass_.size())) {
    return 0.0F;
  }
  return mass_[cell] + static_cast<float>(place - cell) * (mass_[cell + 1] - mass_[cell]);
}

double Predictive::tail_at(double share) const
{
  return sum_up_to(mass_, mass_at(share));
}

float Predictive::mass_below(double tail) const
{
  float low = 0.0F;
  float high = *std::max_element(mass_.begin(), mass_.end());
  double low_off = -tail;
  double high_off = 1.0 - tail;
  const float close = 1e-6F * high;
  // False position; an end that stays twice counts for half (the Illinois rule).
  for (int step = 0, stayed = 0; step < 60 && high - low > close; ++step) {
    const auto middle = static_cast<float>(low - low_off * (high - low) / (high_off - low_off));
    const double off = sum_up_to(mass_, middle) - tail;
    if (off < 0.0) {
      high_off *= stayed < 0 ? 0.5 : 1.0;
      low = middle;
      low_off = off;
      stayed = -1;
    } else {
      low_off *= stayed > 0 ? 0.5 : 1.0;
      high = middle;
      high_off = off;
      stayed = 1;
    }
  }
  return low;
}

double Predictive::density_at(double share) const
{
  return static_cast<double>(mass_at(share)) / step_;
}

void ClaimedReadings::add(Predictive predictive)
{
  most_refused_.push_back(predictive.mass_below(refused_below));
  predictives_.push_back(std::move(predictive));
}

double ClaimedReadings::tail_at(double share) const
{
  double tail = 0.0;
  for (const Predictive& predictive : predictives_) {
    tail = std::max(tail, predictive.tail_at(share));
  }
  return tail;
}

bool ClaimedReadings::refuses(double share) const
{
  for (std::size_t i = 0; i < predictives_.size(); ++i) {
    if (predictives_[i].mass_at(share) > most_refused_[i]) {
      return false;
    }
  }
  return true;
}

}  // namespace bilancetta
