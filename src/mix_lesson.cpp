#include "mix_lesson.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numeric>

namespace bilancetta
{

namespace
{

constexpr double negligible = 1e-4;  // of a kind's chance to be a node

}  // namespace

void MixLesson::Part::add(const Part& other)
{
  std::transform(node.begin(), node.end(), other.node.begin(), node.begin(), std::plus<>());
  spread += other.spread;
}

MixLesson::MixLesson(const MixNodes& nodes)
    : nodes_(&nodes), mix_{std::vector<float>(nodes.size(), 0.0F), 0.0}, without_(nodes.teachers(), mix_)
{
  for (std::size_t t = 0; t < nodes.teachers(); ++t) {
    expected_.push_back(nodes.expected_likelihood(t));
  }
}

void MixLesson::add(const MixLesson& other)
{
  mix_.add(other.mix_);
  for (std::size_t t = 0; t < without_.size(); ++t) {
    without_[t].add(other.without_[t]);
  }
  states_ += other.states_;
}

std::vector<MixLesson::Kind> MixLesson::kinds_of(const MixState& state) const
{
  std::vector<Kind> kinds(state.count.size());
  // Negligible even if any one of its teachers has made it so unlikely.
  const double negligible_without_one = negligible * std::pow(MixNodes::least_likelihood, state.weight);
  std::vector<MixNodes::Factor> factors;
  std::vector<double> odds;
  for (std::size_t k = 0; k < kinds.size(); ++k) {
    if (state.count[k] == 0) {
      continue;
    }
    factors.clear();
    for (std::size_t t = 0; t < state.kind_of.size(); ++t) {
      if (state.kind_of[t] == k) {
        factors.push_back({t, 0.0, 1.0});
      }
    }
    nodes_->find_odds(factors, odds);
    const double total = std::accumulate(odds.begin(), odds.end(), 0.0);
    for (std::size_t v = 0; v < odds.size(); ++v) {
      if (odds[v] > negligible_without_one * total) {
        (odds[v] > negligible * total ? kinds[k].may_be : kinds[k].hardly).push_back({v, odds[v] / total});
      }
    }
  }
  return kinds;
}

void MixLesson::add(const MixState& state)
{
  const std::vector<Kind> kinds = kinds_of(state);
  const double unmet = state.each * static_cast<double>(std::count(state.count.begin(), state.count.end(), 0));
  const double all =
      state.weight * static_cast<double>(state.kind_of.size()) + state.each * static_cast<double>(kinds.size());
  ++states_;
  mix_.spread += unmet / all;
  for (std::size_t k = 0; k < kinds.size(); ++k) {
    for (const Candidate& c : kinds[k].may_be) {
      mix_.node[c.node] += static_cast<float>(state.pieces_of(k) * c.chance / all);
    }
  }
  for (std::size_t t = 0; t < without_.size(); ++t) {
    add_without(t, state, kinds, unmet);
  }
}

// Of the kind that the teacher is, what the others of that kind make of it: its own likelihood is divided out.
void MixLesson::add_without(std::size_t teacher, const MixState& state, const std::vector<Kind>& kinds, double unmet)
{
  const std::size_t own = state.kind_of[teacher];
  const bool alone = state.count[own] == 1;
  double without_own = 0.0;
  for (const auto* candidates : {&kinds[own].may_be, &kinds[own].hardly}) {
    for (const Candidate& c : *candidates) {
      without_own += c.chance / nodes_->weighed(teacher, c.node);
    }
  }
  const double of_own = alone ? 0.0 : (state.pieces_of(own) - state.weight) / without_own;
  const auto pieces_of = [&](std::size_t k, const Candidate& c) {
    return c.chance * (k == own ? of_own / nodes_->weighed(teacher, c.node) : state.pieces_of(k));
  };
  const double spread = unmet + (alone ? state.each : 0.0);
  double likely = spread * expected_[teacher];
  for (std::size_t k = 0; k < kinds.size(); ++k) {
    for (const Candidate& c : kinds[k].may_be) {
      likely += pieces_of(k, c) * nodes_->likelihood(teacher, c.node);
    }
  }
  Part& part = without_[teacher];
  part.spread += spread / likely;
  for (std::size_t k = 0; k < kinds.size(); ++k) {
    for (const Candidate& c : kinds[k].may_be) {
      part.node[c.node] += static_cast<float>(pieces_of(k, c) / likely);
    }
  }
}

}  // namespace bilancetta
