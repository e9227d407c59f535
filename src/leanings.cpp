#include "leanings.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "sentence.hpp"

namespace bilancetta
{

namespace
{

double half_difference(const std::array<double, 4>& a, const std::array<double, 4>& b)
{
  double total = 0.0;
  for (int i = 0; i < 4; ++i) {
    total += 0.5 * std::abs(a[i] - b[i]);
  }
  return total;
}

// What the jar taught of each hypothesis: by how much it made it likelier.
std::vector<double> taught_by_jar(const Analysis& analysis)
{
  std::vector<double> taught(analysis.posterior.size(), 1.0);
  for (std::size_t i = 0; i < analysis.untaught.size(); ++i) {
    taught[i] = analysis.untaught[i] > 0.0 ? analysis.posterior[i] / analysis.untaught[i] : 1.0;
  }
  return taught;
}

}  // namespace

void add_leanings(const Tables& tables, const Piece& piece, Verdict& v)
{
  constexpr double least_change = 1e-6;  // less is rounding, and none
  const Analysis& a = v.analysis;
  const std::vector<double> flat(a.evidence.size(), 1.0);
  const std::vector<double> jar = taught_by_jar(a);
  std::vector<double> weight_and_jar = jar;
  std::transform(jar.begin(), jar.end(), a.evidence.begin(), weight_and_jar.begin(), std::multiplies<>());
  Context even = piece.context;
  even.even_odds = true;
  const std::vector<double> even_prior = prior_of(tables, *a.members, even);
  const auto change = [&](const std::vector<double>& posterior) {
    const double half = half_difference(a.members->by_build(posterior), a.builds);
    return half > least_change ? half : 0.0;
  };
  const auto without_place = posterior_of(even_prior, weight_and_jar, v.background.test_likelihood);
  v.leans_on_weight = change(posterior_of(v.background.prior, jar, v.background.test_likelihood));
  v.leans_on_tests = change(posterior_of(v.background.prior, weight_and_jar, flat));
  v.leans_on_place = change(without_place);
  v.leans_on_jar = a.untaught.empty() ? 0.0 : change(a.untaught);
  const double total = v.leans_on_weight + v.leans_on_tests + v.leans_on_place + v.leans_on_jar;
  const bool leans = total > 0.0 && !v.background.hollow;
  for (double* one : {&v.leans_on_weight, &v.leans_on_tests, &v.leans_on_place, &v.leans_on_jar}) {
    *one = leans ? *one / total : 0.0;
  }
  Analysis even_analysis = a;
  even_analysis.posterior = without_place;
  const std::vector<Explanation> own = explanations_of(tables, a);
  const std::vector<Explanation> alike = explanations_of(tables, even_analysis);
  if (!piece.context.even_odds && !own.empty() && !alike.empty() && own.front().words != alike.front().words) {
    v.why.push_back(fmt::format(
        "With even odds: {} would come first ({}), so the answer leans on where it was found and what is common there.",
        alike.front().words, percent_words(alike.front().probability)));
  }
}

}  // namespace bilancetta
