#include "bilancetta/posterior.hpp"

#include <cassert>

#include "vectorised.hpp"

namespace bilancetta
{

LevelWeights evidence_weights_of(const DensityCurve& curve)
{
  constexpr int most_nodes = 72;
  constexpr double widest = 1.0 / 28.0;
  return weights_on_level(curve, most_nodes, 0, widest);
}

std::vector<double> posterior_of(const std::vector<double>& prior, const std::vector<double>& evidence,
                                 const std::vector<double>& test_likelihood)
{
  assert(prior.size() == evidence.size() && prior.size() == test_likelihood.size());
  std::vector<double> posterior(prior.size());
  for (std::size_t i = 0; i < prior.size(); ++i) {
    posterior[i] = prior[i] * evidence[i] * test_likelihood[i];
  }
  const double total = sum_of(posterior.data(), posterior.size());
  const double factor = total > 0.0 ? 1.0 / total : 0.0;
  for (double& value : posterior) {
    value *= factor;
  }
  return posterior;
}

}  // namespace bilancetta
