#include "reliability.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

namespace validation
{

void Reliability::add(double stated, bool happened)
{
  Bin& bin = bins_[std::clamp(static_cast<int>(10.0 * stated), 0, 9)];
  bin.stated += stated;
  bin.happened += happened ? 1.0 : 0.0;
  bin.cases += 1.0;
}

double Reliability::expected_error() const
{
  double total = 0.0;
  double cases = 0.0;
  for (const Bin& bin : bins_) {
    total += std::abs(bin.stated - bin.happened);
    cases += bin.cases;
  }
  return cases > 0.0 ? total / cases : 1.0;
}

double Reliability::error_by_chance() const
{
  double total = 0.0;
  double cases = 0.0;
  for (const Bin& bin : bins_) {
    const double spread = bin.cases > 0.0 ? bin.stated * (1.0 - bin.stated / bin.cases) : 0.0;
    total += std::sqrt(2.0 / M_PI * spread);  // the mean size of a normal deviation
    cases += bin.cases;
  }
  return cases > 0.0 ? total / cases : 0.0;
}

void Reliability::print(const std::string& what) const
{
  fmt::print(
      "\n{}: expected calibration error {:.4f} ({:.4f} by chance)\n\n| stated | happened | cases |\n|---|---|---|\n",
      what, expected_error(), error_by_chance());
  for (const Bin& bin : bins_) {
    if (bin.cases > 0) {
      fmt::print("| {:.3f} | {:.3f} | {:.0f} |\n", bin.stated / bin.cases, bin.happened / bin.cases, bin.cases);
    }
  }
}

Picture Reliability::picture(const std::string& title) const
{
  Picture p;
  p.title = title;
  p.x_label = "stated probability";
  p.y_label = "share that happened";
  p.line = {{0.0, 0.0}, {1.0, 1.0}};
  p.band = 0.02;
  for (const Bin& bin : bins_) {
    if (bin.cases >= 20) {
      p.points.emplace_back(bin.stated / bin.cases, bin.happened / bin.cases);
    }
  }
  return p;
}

void RankHistogram::add(double rank)
{
  count_[std::clamp(static_cast<int>(bins * rank), 0, bins - 1)] += 1.0;
  cases_ += 1.0;
}

double RankHistogram::p_value() const
{
  const double expected = cases_ / bins;
  double chi_square = 0.0;
  for (const double count : count_) {
    chi_square += (count - expected) * (count - expected) / expected;
  }
  constexpr double spread = 2.0 / (9.0 * (bins - 1));
  return 0.5 * std::erfc((std::cbrt(chi_square / (bins - 1)) - 1.0 + spread) / std::sqrt(2.0 * spread));
}

Picture RankHistogram::picture(const std::string& title) const
{
  Picture p;
  p.title = title;
  p.x_label = "rank of the true value in the stated distribution";
  p.y_label = "found / expected";
  const double expected = cases_ / bins;
  p.band = 2.576 * std::sqrt((1.0 - 1.0 / bins) / expected);
  p.y_low = std::max(0.0, 1.0 - 3.0 * p.band);
  p.y_high = 1.0 + 3.0 * p.band;
  p.line = {{0.0, 1.0}, {1.0, 1.0}};
  for (int i = 0; i < bins; ++i) {
    p.points.emplace_back((i + 0.5) / bins, std::clamp(count_[i] / expected, p.y_low, p.y_high));
  }
  return p;
}

double Coverage::slack() const
{
  return cases_ > 0.0 ? 300.0 * std::sqrt(0.05 * 0.95 / cases_) : 0.0;
}

}  // namespace validation
