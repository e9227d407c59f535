#include "compared_hypotheses.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <random>

#include "referee.hpp"

using namespace bilancetta;

namespace validation
{

namespace
{

Compared named(const Tables& tables, const Hypothesis& h, double volume_cm3)
{
  Compared c;
  c.hypothesis = h;
  c.kind = h.kind == Kind::open_mix ? "open mix"
           : h.kind == Kind::hollow ? "hollow"
           : h.kind == Kind::inlay  ? "inlay"
           : h.kind == Kind::joined ? "joined"
           : h.kind == Kind::plated ? "plated"
           : h.outer.porous         ? "solid, porous"
                                    : "solid, melted";
  c.name = h.kind == Kind::open_mix ? "open-mix" : tables.materials[h.outer_material].key;
  if (h.inner_material >= 0) {
    c.name += " on " + tables.materials[h.inner_material].key;
  }
  if (h.kind == Kind::plated && volume_cm3 != 0.1) {
    c.name += volume_cm3 < 0.1 ? ", 0.002 cm3" : ", 16 cm3";
  }
  return c;
}

// Standard deviation of ln(density), by random draws: how wide a prediction is.
double width_of(const Hypothesis& h)
{
  constexpr int draws = 500;
  std::mt19937_64 random(3);
  std::normal_distribution<double> normal;
  double sum = 0.0;
  double squares = 0.0;
  for (int i = 0; i < draws; ++i) {
    double z[max_variables] = {};
    for (int k = 0; k < h.variables; ++k) {
      z[k] = normal(random);
    }
    const double log_density = std::log(h.evaluate(z).density);
    sum += log_density;
    squares += log_density * log_density;
  }
  return std::sqrt(std::max(squares / draws - sum * sum / draws / draws, 0.0) + h.scatter * h.scatter);
}

// Each with its width.
std::vector<std::pair<double, Compared>> every(const Tables& tables, double volume_cm3)
{
  const Prepared prepared(tables, PieceSize{volume_cm3, {}});
  std::vector<std::pair<double, Compared>> all;
  for (const Member* member : prepared.members(volume_cm3)) {
    all.emplace_back(width_of(member->hypothesis), named(tables, member->hypothesis, volume_cm3));
  }
  return all;
}

}  // namespace

std::vector<Compared> spread_of_hypotheses(const Tables& tables, int each)
{
  std::map<std::string, std::vector<std::pair<double, Compared>>> by_kind;
  for (auto& one : every(tables, 0.1)) {
    by_kind[one.second.kind].push_back(std::move(one));
  }
  std::vector<Compared> chosen;
  for (const char* kind : compared_kinds) {
    auto& all = by_kind[kind];
    std::sort(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
    const int size = static_cast<int>(all.size());
    const int wanted = std::min(each, size);
    for (int i = 0; i < wanted; ++i) {
      chosen.push_back(all[wanted > 1 ? i * (size - 1) / (wanted - 1) : size / 2].second);
    }
    const auto most = std::max_element(all.begin(), all.end(), [](const auto& a, const auto& b) {
      return a.second.hypothesis.variables < b.second.hypothesis.variables;
    });
    if (each > 1 && wanted < size) {
      chosen.push_back(most->second);
    }
  }
  for (const double volume_cm3 : each > 1 ? std::vector<double>{0.002, 16.0} : std::vector<double>{}) {
    auto all = every(tables, volume_cm3);
    std::erase_if(all, [](const auto& one) { return one.second.kind != "plated"; });
    const auto ends =
        std::minmax_element(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
    chosen.push_back(ends.first->second);
    chosen.push_back(ends.second->second);
  }
  return chosen;
}

std::vector<Compared> all_hypotheses(const Tables& tables)
{
  std::vector<Compared> all;
  for (auto& one : every(tables, 0.1)) {
    all.push_back(std::move(one.second));
  }
  return all;
}

DensityPilot::DensityPilot(const Hypothesis& h) : scatter_(h.scatter)
{
  constexpr int draws = 200000;
  constexpr double wider = 1.5;
  std::mt19937_64 random(5);
  std::normal_distribution<double> normal;
  std::vector<std::pair<double, double>> all(draws);  // ln density, weight
  for (auto& [log_density, weight] : all) {
    double z[max_variables] = {};
    double squares = 0.0;
    for (int k = 0; k < h.variables; ++k) {
      const double own = normal(random);
      z[k] = wider * own;
      squares += own * own;
    }
    log_density = std::log(h.evaluate(z).density);
    weight = std::exp(-0.5 * squares * (wider * wider - 1.0));
  }
  const auto [lowest, highest] = std::minmax_element(all.begin(), all.end());
  log_step_ = 0.5 * scatter_;
  lowest_ = lowest->first;
  mass_.assign(static_cast<std::size_t>((highest->first - lowest_) / log_step_) + 1, 0.0);
  for (const auto& [log_density, weight] : all) {
    mass_[static_cast<std::size_t>((log_density - lowest_) / log_step_)] += weight;
  }
}

double DensityPilot::evidence_at(double density, double u) const
{
  double total = 0.0;
  for (std::size_t i = 0; i < mass_.size(); ++i) {
    const double drawn = std::exp(lowest_ + (static_cast<double>(i) + 0.5) * log_step_);
    const double width = std::hypot(scatter_ * drawn / u, 1.0);
    const double off = referee::off_from(density, u, drawn) / width;
    total += mass_[i] / width * std::exp(-0.5 * off * off);
  }
  return total;
}

double DensityPilot::highest_evidence(double u) const
{
  double highest = 0.0;
  for (std::size_t i = 0; i < mass_.size(); ++i) {
    if (mass_[i] > 0.0) {
      highest = std::max(highest, evidence_at(std::exp(lowest_ + (static_cast<double>(i) + 0.5) * log_step_), u));
    }
  }
  return highest;
}

std::vector<double> DensityPilot::typical_densities() const
{
  const double total = std::accumulate(mass_.begin(), mass_.end(), 0.0);
  const auto at = [&](std::size_t bin) { return std::exp(lowest_ + (static_cast<double>(bin) + 0.5) * log_step_); };
  std::size_t best = 0;
  double highest = 0.0;
  std::vector<double> ends;
  double passed = 0.0;
  for (std::size_t i = 0; i < mass_.size(); ++i) {
    const double here = mass_[i] > 0.0 ? evidence_at(at(i), 0.001) : 0.0;
    if (here > highest) {
      highest = here;
      best = i;
    }
    for (const double p : {0.025, 0.975}) {
      if (passed < p * total && passed + mass_[i] >= p * total) {
        ends.push_back(at(i));
      }
    }
    passed += mass_[i];
  }
  ends.push_back(at(best));
  return ends;
}

std::vector<double> DensityPilot::outermost_densities(double u) const
{
  const double last = lowest_ + static_cast<double>(mass_.size()) * log_step_;
  const double low = std::max({0.6, 5.0 * u, std::exp(lowest_) * (1.0 - 4.0 * scatter_) - 4.0 * u});
  const double high = std::min(22.5, std::exp(last) * (1.0 + 4.0 * scatter_) + 4.0 * u);
  if (low >= high) {
    return {};
  }
  constexpr int tried = 400;
  std::vector<double> densities;
  std::vector<double> evidence;
  for (int i = 0; i <= tried; ++i) {
    densities.push_back(low + (high - low) * i / tried);
    evidence.push_back(evidence_at(densities.back(), u));
  }
  const double least = highest_evidence(u) / 800.0;
  const auto above = [&](double value) { return value >= least; };
  if (std::none_of(evidence.begin(), evidence.end(), above)) {
    return {};
  }
  const auto first = std::find_if(evidence.begin(), evidence.end(), above) - evidence.begin();
  const auto end = std::find_if(evidence.rbegin(), evidence.rend(), above) - evidence.rbegin();
  return {densities[static_cast<std::size_t>(first)], densities[static_cast<std::size_t>(tried - end)]};
}

}  // namespace validation
