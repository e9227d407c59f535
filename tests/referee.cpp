#include "referee.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <random>

#include "bilancetta/density_grid.hpp"
#include "draws.hpp"

using namespace bilancetta;

namespace referee
{

namespace
{

constexpr double reach = 6.0;

bool is_relative(double density, double u)
{
  return reach * u > 0.8 * density;
}

using Point = std::array<double, max_variables>;
using Random = std::mt19937_64;

double normal(Random& random)
{
  static thread_local std::normal_distribution<double> distribution;
  return distribution(random);
}

// Where z is drawn: partly from the prior, partly twice as wide, mostly about points that explain the reading.
class Proposal
{
 public:
  explicit Proposal(int variables) : variables_(variables) {}
  void centre_on(std::vector<Point> centres) { centres_ = std::move(centres); }

  // Returns N(z; 0, I) / density of z here.
  double draw(Random& random, Point& z) const
  {
    const double which = std::uniform_real_distribution<double>()(random);
    const Point* centre = nullptr;
    double sd = which < of_prior ? 1.0 : wide;
    if (!centres_.empty() && which >= of_prior + of_wide) {
      centre = &centres_[std::uniform_int_distribution<std::size_t>(0, centres_.size() - 1)(random)];
      sd = narrow;
    }
    double squares = 0.0;
    for (int k = 0; k < variables_; ++k) {
      z[k] = (centre != nullptr ? (*centre)[k] : 0.0) + sd * normal(random);
      squares += z[k] * z[k];
    }
    const auto height = [&](double s, double distance) {
      return std::pow(s, -variables_) * std::exp(0.5 * squares - 0.5 * distance / (s * s));
    };
    double about = centres_.empty() ? height(wide, squares) : 0.0;
    for (const Point& c : centres_) {
      double distance = 0.0;
      for (int k = 0; k < variables_; ++k) {
        distance += (z[k] - c[k]) * (z[k] - c[k]);
      }
      about += height(narrow, distance) / static_cast<double>(centres_.size());
    }
    return 1.0 / (of_prior + of_wide * height(wide, squares) + (1.0 - of_prior - of_wide) * about);
  }

 private:
  static constexpr double of_prior = 0.25, of_wide = 0.15, wide = 2.0, narrow = 0.9;
  int variables_;
  std::vector<Point> centres_;
};

// Points in proportion to how well they explain a reading of about this density, as far as the proposal finds them.
std::vector<Point> explaining_points(const Hypothesis& h, double density, double u, const Proposal& proposal,
                                     Random& random)
{
  constexpr int tried = 20000;
  constexpr int kept = 24;
  const double width = 1.5 * std::hypot(u, h.scatter * density);
  std::vector<Point> points(tried, Point{});
  std::vector<double> weights(tried);
  for (int i = 0; i < tried; ++i) {
    weights[i] = proposal.draw(random, points[i]);
    const double off = (h.evaluate(points[i].data()).density - density) / width;
    weights[i] *= std::exp(-0.5 * off * off);
  }
  std::vector<Point> chosen;
  if (*std::max_element(weights.begin(), weights.end()) > 1e-200) {
    std::discrete_distribution<int> pick(weights.begin(), weights.end());
    for (int i = 0; i < kept; ++i) {
      chosen.push_back(points[pick(random)]);
    }
  }
  return chosen;
}

// Weighted values from 0 to 1 in 10,000 bins.
class FineHistogram
{
 public:
  void add(double value, double weight)
  {
    const int bin = std::clamp(static_cast<int>(value * bins), 0, bins - 1);
    bin_[bin] += weight;
    squares_[bin] += weight * weight;
    total_ += weight;
  }
  [[nodiscard]] double quantile(double probability) const
  {
    double wanted = probability * total_;
    for (int i = 0; i < bins; ++i) {
      if (bin_[i] >= wanted && bin_[i] > 0.0) {
        return (i + wanted / bin_[i]) / bins;
      }
      wanted -= bin_[i];
    }
    return 1.0;
  }
  // What two standard errors of the weighted draws make of a quantile.
  [[nodiscard]] Ends around(double p) const
  {
    if (total_ <= 0.0) {
      return {};
    }
    const double error = 2.0 * standard_error(p);
    return {quantile(std::max(p - error, 0.0)), quantile(std::min(p + error, 1.0))};
  }

 private:
  static constexpr int bins = 10000;
  // Far from where draws are made, few weigh much: the error of a probability p is that of the mean of weighted
  // indicators (Owen, "Monte Carlo theory, methods and examples", 2013, eq. 9.8; from memory).
  [[nodiscard]] double standard_error(double p) const
  {
    double passed = 0.0;
    double variance = 0.0;
    for (int i = 0; i < bins; ++i) {
      const double off = passed < p * total_ ? 1.0 - p : p;
      variance += off * off * squares_[i];
      passed += bin_[i];
    }
    return std::sqrt(variance) / total_;
  }
  std::vector<double> bin_ = std::vector<double>(bins, 0.0);
  std::vector<double> squares_ = std::vector<double>(bins, 0.0);
  double total_ = 0.0;
};

// The draws made for one standard uncertainty.
struct Tally {
  double u = 0.0, squeeze = 0.0, pull = 0.0;  // of the scatter towards the reading
  double sum = 0.0, squares = 0.0;
  long draws = 0;
  std::vector<FineHistogram> fractions;

  Tally(const Hypothesis& h, double density, double uncertainty, std::size_t constituents)
      : u(uncertainty), fractions(constituents)
  {
    const double relative = h.scatter * density / u;
    squeeze = 1.0 / std::sqrt(1.0 + relative * relative);
    pull = relative * relative / (1.0 + relative * relative);
  }
  [[nodiscard]] double effective() const { return squares > 0.0 ? sum * sum / squares : 0.0; }

  // The weight of a draw of z of this density, its scatter drawn from about where the reading wants it.
  double weigh(Random& random, const Hypothesis& h, double density, double drawn, double z_weight) const
  {
    constexpr double wider = 1.1;
    const double wanted = pull * std::log(density / drawn) / h.scatter;
    const double step = normal(random);
    const double s = wanted + wider * squeeze * step;
    const double off = off_from(density, u, drawn * std::exp(h.scatter * s));
    if (std::abs(off) > reach) {
      return 0.0;
    }
    return z_weight * wider * squeeze * std::exp(0.5 * step * step - 0.5 * s * s - 0.5 * off * off);
  }

  [[nodiscard]] BruteAnswer answer() const
  {
    BruteAnswer a;
    a.evidence = draws > 0 ? sum / static_cast<double>(draws) : 0.0;
    a.effective_draws = effective();
    for (const FineHistogram& f : fractions) {
      a.bands.push_back({f.quantile(0.025), f.quantile(0.975)});
      const Ends low = f.around(0.025);
      const Ends high = f.around(0.975);
      a.least.push_back({low.low, high.low});
      a.most.push_back({low.high, high.high});
    }
    return a;
  }
};

}  // namespace

std::vector<BruteAnswer> brute_force(const Hypothesis& h, double density, const std::vector<double>& uncertainties,
                                     const std::vector<int>& constituents, unsigned seed, double wanted)
{
  constexpr long most = 60'000'000;
  constexpr long at_a_time = 20'000;
  Random random(seed);
  std::vector<Tally> tallies;
  tallies.reserve(uncertainties.size());
  for (const double u : uncertainties) {
    tallies.emplace_back(h, density, u, constituents.size());
  }
  Proposal proposal(h.variables);
  const double narrowest = *std::min_element(uncertainties.begin(), uncertainties.end());
  for (int round = 0; round < 2; ++round) {
    proposal.centre_on(explaining_points(h, density, narrowest, proposal, random));
  }
  bool lacking = true;
  for (long draws = 0; draws < most && lacking; draws += at_a_time) {
    std::vector<Tally*> open;
    for (Tally& t : tallies) {
      if (t.effective() < wanted) {
        open.push_back(&t);
        t.draws += at_a_time;
      }
    }
    lacking = !open.empty();
    for (long i = 0; i < at_a_time && lacking; ++i) {
      Point z{};
      const double z_weight = proposal.draw(random, z);
      const Outcome<double> outcome = h.evaluate(z.data());
      for (Tally* t : open) {
        const double weight = t->weigh(random, h, density, outcome.density, z_weight);
        t->sum += weight;
        t->squares += weight * weight;
        for (std::size_t c = 0; c < constituents.size() && weight > 0.0; ++c) {
          t->fractions[c].add(fraction_of(h, outcome, constituents[c]), weight);
        }
      }
    }
  }
  std::vector<BruteAnswer> answers;
  answers.reserve(tallies.size());
  for (const Tally& t : tallies) {
    answers.push_back(t.answer());
  }
  return answers;
}

double off_from(double read_density, double u, double density)
{
  return is_relative(read_density, u) ? std::log(density / read_density) * read_density / u
                                      : (density - read_density) / u;
}

DensityCurve gaussian_curve(double density, double u)
{
  DensityCurve curve;
  curve.liquid_g_cm3 = 0.998;
  curve.air_g_cm3 = 0.0012;
  const double difference = curve.liquid_g_cm3 - curve.air_g_cm3;
  constexpr int points = 801;
  const double factor = std::exp(reach * u / density);
  const bool relative = is_relative(density, u);
  const double high = relative ? density * factor : density + reach * u;
  const double low = relative ? std::max(density / factor, density_grid::density_at(0)) : density - reach * u;
  curve.first_share = difference / (high - curve.air_g_cm3);
  curve.share_step = (difference / (low - curve.air_g_cm3) - curve.first_share) / (points - 1);
  for (int i = 0; i < points; ++i) {
    const double off = off_from(density, u, curve.density_at(i));
    curve.likelihood.push_back(std::exp(-0.5 * off * off));
  }
  return curve;
}

Answer by_tables(const Member& member, double density, double u, const std::vector<int>& constituents)
{
  Analysis analysis;
  analysis.curve = gaussian_curve(density, u);
  Answer answer;
  answer.evidence = MemberGroup({member}).predictions.under(evidence_weights_of(analysis.curve), 0);
  const Member shown = finer(member);
  Draws draws(shown.hypothesis, true);
  std::vector<ShareHistogram> histograms(constituents.size());
  for (const WeighedDraw& draw : DrawWeights(analysis.curve, shown.hypothesis.scatter).of(shown)) {
    const Outcome<double> outcome = draws.outcome(draw.draw, draw.along);
    for (std::size_t c = 0; c < constituents.size(); ++c) {
      histograms[c].add(fraction_of(member.hypothesis, outcome, constituents[c]), draw.mass);
    }
  }
  for (const ShareHistogram& histogram : histograms) {
    const Band band = histogram.band(0.95);
    answer.bands.push_back({band.low, band.high});
  }
  return answer;
}

Ends silver_as_in_batches(const Member& member, double density, double u)
{
  Analysis analysis;
  analysis.curve = gaussian_curve(density, u);
  analysis.weights = evidence_weights_of(analysis.curve);
  const MemberGroup group({member});
  const Members members({&group});
  analysis.members = &members;
  analysis.posterior = {1.0};
  const Band band = silver_fraction_of(analysis, {0}).band(0.95);
  return {band.low, band.high};
}

double departure_of(double value, double least, double most)
{
  return value < least ? least - value : std::max(value - most, 0.0);
}

}  // namespace referee
