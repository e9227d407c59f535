#include "referee.hpp"

#include <algorithm>
#include <cmath>
#include <random>

#include "draws.hpp"

using namespace bilancetta;

namespace referee
{

Answer brute_force(const Hypothesis& hypothesis, double density, double u, int constituent, unsigned seed)
{
  constexpr double wanted = 40000.0;
  constexpr long most = 40'000'000;
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  std::vector<std::pair<float, float>> kept;  // fraction, weight
  double sum = 0.0;
  double squares = 0.0;
  long draws = 0;
  while (draws < most && (sum * sum < wanted * squares || draws < 20000)) {
    ++draws;
    double z[max_variables] = {};
    for (int k = 0; k < hypothesis.variables; ++k) {
      z[k] = normal(random);
    }
    const Outcome<double> outcome = hypothesis.evaluate(z);
    const double off = (outcome.density * std::exp(hypothesis.scatter * normal(random)) - density) / u;
    if (std::abs(off) > 6.0) {
      continue;
    }
    const double weight = std::exp(-0.5 * off * off);
    sum += weight;
    squares += weight * weight;
    kept.emplace_back(static_cast<float>(fraction_of(hypothesis, outcome, constituent)), static_cast<float>(weight));
  }
  std::sort(kept.begin(), kept.end());
  const auto quantile = [&](double probability) {
    double passed = 0.0;
    for (const auto& [fraction, weight] : kept) {
      passed += weight;
      if (passed >= probability * sum) {
        return static_cast<double>(fraction);
      }
    }
    return 1.0;
  };
  return {sum / static_cast<double>(draws), quantile(0.025), quantile(0.975), sum * sum / squares};
}

DensityCurve gaussian_curve(double density, double u)
{
  DensityCurve curve;
  curve.liquid_g_cm3 = 0.998;
  curve.air_g_cm3 = 0.0012;
  const double difference = curve.liquid_g_cm3 - curve.air_g_cm3;
  constexpr int points = 801;
  const double reach = std::min(6.0 * u, 0.8 * density);
  curve.first_share = difference / (density + reach - curve.air_g_cm3);
  curve.share_step = (difference / (density - reach - curve.air_g_cm3) - curve.first_share) / (points - 1);
  for (int i = 0; i < points; ++i) {
    const double off = (curve.density_at(i) - density) / u;
    curve.likelihood.push_back(std::exp(-0.5 * off * off));
  }
  return curve;
}

Answer by_tables(const Member& member, double density, double u, int constituent)
{
  Analysis analysis;
  analysis.curve = gaussian_curve(density, u);
  Answer answer;
  answer.evidence = member.levels.under(evidence_weights_of(analysis.curve));
  const std::vector<float> weights = DrawWeights(analysis).of(member);
  ShareHistogram histogram;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    if (weights[i] > 0.0F) {
      histogram.add(
          fraction_of(member.hypothesis, outcome_of_draw(member.hypothesis, static_cast<int>(i)), constituent),
          weights[i]);
    }
  }
  const Band band = histogram.band(0.95);
  answer.low = band.low;
  answer.high = band.high;
  return answer;
}

}  // namespace referee
