#include "bilancetta/learned_mix.hpp"

#include <algorithm>
#include <cmath>

#include "mix_sampler.hpp"

namespace bilancetta
{

namespace
{

// A jar never makes less of a piece's evidence than this, in ln: readings have blunders.
constexpr float lowest_ln = -30.0F;
// Share of the tables' own prior that no jar can take away: sampling may have missed a lookalike. Judgement.
constexpr double kept_for_tables = 0.05;
constexpr double negligible = 1e-7;  // a posterior that no jar makes matter

std::string name_of_teacher(long row, const std::string& lot)
{
  return lot.empty() ? std::to_string(row) : "lot " + lot;
}

}  // namespace

MixRow mix_row_of(const Analysis& analysis, const Background& background)
{
  MixRow says(analysis.evidence.size(), -INFINITY);
  float highest = -INFINITY;
  for (std::size_t i = 0; i < says.size(); ++i) {
    if (background.prior[i] > 0.0) {
      says[i] = static_cast<float>(std::log(analysis.evidence[i] * background.test_likelihood[i]));
      highest = std::max(highest, says[i]);
    }
  }
  for (std::size_t i = 0; i < says.size(); ++i) {
    if (background.prior[i] > 0.0) {
      says[i] = highest > -INFINITY ? std::max(says[i] - highest, lowest_ln) : 0.0F;
    }
  }
  return says;
}

LearnedMix::LearnedMix(const Prepared& prepared) : prepared_(&prepared)
{
  const Tables& tables = prepared.tables();
  const auto group = [&](int material) { return material < 0 ? std::string() : tables.materials[material].group; };
  std::map<std::string, int> families;
  for (const Member* member : prepared.members_of_any_size()) {
    const Hypothesis& h = member->hypothesis;
    const std::string key = std::string(name_of(h.build)) + '\n' +
                            (h.kind == Kind::open_mix ? "open mix" : group(h.outer_material)) + '\n' +
                            group(h.inner_material);
    family_of_.push_back(families.try_emplace(key, static_cast<int>(families.size())).first->second);
    build_of_.push_back(static_cast<int>(h.build));
  }
  families_ = families.size();
}

const LearnedMix::PlaceMix* LearnedMix::known_place(const Context& context) const
{
  const auto match = places_.find(context.even_odds ? "even odds" : context.place);
  return match == places_.end() ? nullptr : &match->second;
}

LearnedMix::PlaceMix& LearnedMix::place_of(const Context& context)
{
  const auto [match, added] = places_.try_emplace(context.even_odds ? "even odds" : context.place);
  PlaceMix& place = match->second;
  if (added) {
    const Context any{.place = context.place, .form = "unsure", .even_odds = context.even_odds, .answers = {}};
    place.prior = prior_of(prepared_->tables(), prepared_->members_of_any_size(), any);
    place.of_node.assign(place.prior.size() + families_ + 5, 0.0);
    for (std::size_t i = 0; i < place.prior.size(); ++i) {
      for (const std::size_t node : nodes_of(i)) {
        place.of_node[node] += place.prior[i];
      }
    }
    place.mean_factor.assign(place.prior.size(), 1.0);
  }
  return place;
}

void LearnedMix::add(long row, const Context& context, const std::string& lot, const MixRow& says)
{
  PlaceMix& place = place_of(context);
  const std::string name = name_of_teacher(row, lot);
  if (const auto known = place.called.find(name); known != place.called.end()) {
    if (known->second >= 0) {
      Teacher& teacher = place.teachers[known->second];
      ++teacher.rows;
      std::transform(says.begin(), says.end(), teacher.ln_sum.begin(), teacher.ln_sum.begin(), std::plus<>());
    }
    return;
  }
  const long offered = place.offered++;
  auto seat = static_cast<std::size_t>(offered);
  if (seat >= most_teachers) {
    seat = static_cast<std::size_t>(place.random() % static_cast<std::uint64_t>(offered + 1));
    if (seat >= most_teachers) {
      if (!lot.empty()) {
        place.called[name] = -1;
      }
      return;
    }
    // Who gives way is forgotten, unless more rows of its lot may come.
    if (place.name[seat].starts_with("lot ")) {
      place.called[place.name[seat]] = -1;
    } else {
      place.called.erase(place.name[seat]);
    }
  } else {
    place.teachers.emplace_back();
    place.name.emplace_back();
  }
  place.teachers[seat] = {says, 1, {}};
  place.name[seat] = name;
  place.called[name] = static_cast<int>(seat);
}

void LearnedMix::learn()
{
  for (auto& [key, place] : places_) {
    MixSampler(*this, place).run();
    for (std::size_t i = 0; i < place.prior.size(); ++i) {
      place.mean_factor[i] = kept_for_tables;
      for (const State& state : place.kept) {
        place.mean_factor[i] += place.prior[i] > 0.0 ? (1.0 - kept_for_tables) * factor(place, state, i, -1) /
                                                           static_cast<double>(place.kept.size())
                                                     : 0.0;
      }
    }
  }
}

std::vector<double> LearnedMix::mix_of(const Context& context) const
{
  const PlaceMix* place = known_place(context);
  if (place == nullptr) {
    return {};
  }
  std::vector<double> mix = place->prior;
  std::transform(mix.begin(), mix.end(), place->mean_factor.begin(), mix.begin(), std::multiplies<>());
  return mix;
}

std::vector<double> LearnedMix::factors_for(long row, const Context& context, const std::string& lot,
                                            const Analysis& analysis) const
{
  const std::size_t members = analysis.posterior.size();
  const PlaceMix* place = known_place(context);
  if (place == nullptr) {
    return std::vector<double>(members, 1.0);
  }
  const auto match = place->called.find(name_of_teacher(row, lot));
  if (match == place->called.end() || match->second < 0) {
    return place->mean_factor;
  }
  // A teacher: in each state without its own count, and normalised there.
  const Teacher& teacher = place->teachers[match->second];
  std::vector<double> mean(members, kept_for_tables);
  std::vector<double> one(members, 0.0);
  for (std::size_t s = 0; s < place->kept.size(); ++s) {
    double total = 0.0;
    for (std::size_t i = 0; i < members; ++i) {
      const double p = analysis.posterior[i];
      one[i] = p > negligible ? factor(*place, place->kept[s], i, teacher.chosen[s]) : 0.0;
      total += p * one[i];
    }
    for (std::size_t i = 0; i < members; ++i) {
      mean[i] += total > 0.0 ? (1.0 - kept_for_tables) * one[i] / total / static_cast<double>(place->kept.size()) : 0.0;
    }
  }
  return mean;
}

void LearnedMix::apply(long row, const Context& context, const std::string& lot, Analysis& analysis) const
{
  const std::vector<double> factors = factors_for(row, context, lot, analysis);
  analysis.untaught = analysis.posterior;
  double total = 0.0;
  for (std::size_t i = 0; i < factors.size(); ++i) {
    total += analysis.posterior[i] *= factors[i];
  }
  analysis.builds.fill(0.0);
  for (std::size_t i = 0; i < factors.size(); ++i) {
    analysis.posterior[i] = total > 0.0 ? analysis.posterior[i] / total : 0.0;
    analysis.builds[build_of_[i]] += analysis.posterior[i];
  }
}

std::array<std::size_t, 4> LearnedMix::nodes_of(std::size_t hypothesis) const
{
  const std::size_t rows = family_of_.size();
  return {hypothesis, rows + static_cast<std::size_t>(family_of_[hypothesis]),
          rows + families_ + static_cast<std::size_t>(build_of_[hypothesis]), rows + families_ + 4};
}

// Share of a hypothesis in the mix over its prior, as the state has it, of `without` (a kind; -1: none) one piece less.
double LearnedMix::factor(const PlaceMix& place, const State& state, std::size_t hypothesis, int without) const
{
  double sum = 0.0;
  for (const std::size_t node : nodes_of(hypothesis)) {
    sum += state.gain[node];
    if (without >= 0 && state.node[without] == static_cast<int>(node)) {
      const bool alone = state.count[without] == 1;
      sum -= (alone ? 1.0 + state.each : 1.0) / place.of_node[node];
    }
  }
  const double free = without >= 0 && state.count[without] == 1 ? state.each : 0.0;
  return std::max(sum + free, 0.0) / (state.all - (without >= 0 ? 1.0 : 0.0));
}

}  // namespace bilancetta
