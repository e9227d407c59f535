#include "bilancetta/learned_mix.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <functional>
#include <iterator>
#include <tuple>

#include "mix_sampler.hpp"

namespace bilancetta
{

namespace
{

// A jar never makes less of a piece's evidence than this, in ln: readings have blunders.
constexpr float lowest_ln = -30.0F;
// Share of what the tables alone make of a piece that no jar can take away: sampling may have missed a lookalike.
// Judgement.
constexpr double kept_for_tables = 0.05;
// No jar makes a hypothesis likelier for a piece than this: many pieces that no row fits find a rare broad one.
// Judgement.
constexpr double most_times_likelier = 30.0;
constexpr double steps_of_ln = 1048576.0;  // a power of two: sums of whole steps are exact

// Spreads bits (the finaliser of MurmurHash3; from memory).
std::uint64_t stirred(std::uint64_t bits)
{
  bits = (bits ^ (bits >> 33U)) * 0xff51afd7ed558ccdU;
  bits = (bits ^ (bits >> 33U)) * 0xc4ceb9fe1a85ec53U;
  return bits ^ (bits >> 33U);
}

std::uint64_t number_of(const MixRow& says)
{
  std::uint64_t number = 0;
  for (const float ln : says) {
    number = stirred(number ^ std::bit_cast<std::uint32_t>(ln));
  }
  return number;
}

std::uint64_t number_of(const std::string& lot)
{
  std::uint64_t number = 1;
  for (const char c : lot) {
    number = stirred(number ^ static_cast<unsigned char>(c));
  }
  return number;
}

std::vector<double> in_steps(const MixRow& says)
{
  std::vector<double> steps(says.size());
  std::transform(says.begin(), says.end(), steps.begin(),
                 [](float ln) { return std::round(static_cast<double>(ln) * steps_of_ln) / steps_of_ln; });
  return steps;
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

LearnedMix::LearnedMix(const Prepared& prepared, std::size_t most_teachers, double trusted_pieces)
    : prepared_(&prepared), most_teachers_(most_teachers), trusted_pieces_(trusted_pieces)
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
    const Context any{.place = context.place, .form = Form::unsure, .even_odds = context.even_odds, .answers = {}};
    place.prior = prior_of(prepared_->tables(), prepared_->members_of_any_size(), any);
    place.of_node.assign(place.prior.size() + families_ + 5, 0.0);
    for (std::size_t i = 0; i < place.prior.size(); ++i) {
      for (const std::size_t node : nodes_of(i)) {
        place.of_node[node] += place.prior[i];
      }
    }
    place.mean_factor.assign(place.prior.size(), 1.0F);
  }
  return place;
}

void LearnedMix::add(long row, const Context& context, const std::string& lot, const MixRow& says)
{
  PlaceMix& place = place_of(context);
  // Of pieces that say the same each has a ticket of its own.
  std::uint64_t ticket = number_of(lot);
  if (lot.empty()) {
    const std::uint64_t number = number_of(says);
    place.says.emplace_back(row, number);
    ticket = stirred(number + static_cast<std::uint64_t>(++place.pieces[number]));
  }
  if (const auto known = place.seated.find(ticket); known != place.seated.end()) {
    Teacher& teacher = known->second;
    ++teacher.rows;
    const std::vector<double> more = in_steps(says);
    std::transform(more.begin(), more.end(), teacher.ln_sum.begin(), teacher.ln_sum.begin(), std::plus<>());
    return;
  }
  if (place.seated.size() == most_teachers_) {
    const auto last = std::prev(place.seated.end());
    if (ticket > last->first) {
      return;
    }
    place.seated.erase(last);
  }
  place.seated.emplace(ticket, Teacher{in_steps(says), 1, {}, lot.empty() ? place.says.back().second : ticket});
}

void LearnedMix::learn(int threads, unsigned seed)
{
  for (auto& [key, place] : places_) {
    for (auto& [ticket, teacher] : place.seated) {
      place.teachers.push_back(std::move(teacher));
    }
    place.seated.clear();
    std::sort(place.teachers.begin(), place.teachers.end(), [](const Teacher& a, const Teacher& b) {
      return std::tie(a.ln_sum, a.rows) < std::tie(b.ln_sum, b.rows);
    });
    for (std::size_t t = 0; t < place.teachers.size(); ++t) {
      place.called.emplace(place.teachers[t].number, static_cast<int>(t));
    }
    // Of the rest only the mean is needed.
    std::erase_if(place.says, [&, &place = place](const auto& piece) { return !place.called.contains(piece.second); });
    place.says.shrink_to_fit();
    place.pieces.clear();
    std::sort(place.says.begin(), place.says.end());
    MixSampler(*this, place).run(threads, seed);
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
  const Teacher* teacher = teacher_of(*place, row, lot);
  const std::vector<float>& taught = teacher != nullptr ? teacher->factor : place->mean_factor;
  double total = 0.0;
  for (std::size_t i = 0; i < members; ++i) {
    total += analysis.posterior[i] * static_cast<double>(taught[i]);
  }
  std::vector<double> factors(members, 0.0);
  double left = 1.0;
  for (std::size_t i = 0; i < members && total > 0.0; ++i) {
    const double times = std::min(static_cast<double>(taught[i]) / total, most_times_likelier);
    factors[i] = (1.0 - kept_for_tables) * times;
    left -= analysis.posterior[i] * factors[i];
  }
  for (double& factor : factors) {
    factor += left;
  }
  return factors;
}

// Whoever says what a teacher says is taught like it. Null: no teacher.
const LearnedMix::Teacher* LearnedMix::teacher_of(const PlaceMix& place, long row, const std::string& lot)
{
  std::uint64_t number = number_of(lot);
  if (lot.empty()) {
    const auto piece = std::lower_bound(place.says.begin(), place.says.end(), std::pair(row, std::uint64_t{0}));
    if (piece == place.says.end() || piece->first != row) {
      return nullptr;
    }
    number = piece->second;
  }
  const auto match = place.called.find(number);
  return match == place.called.end() ? nullptr : &place.teachers[static_cast<std::size_t>(match->second)];
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

}  // namespace bilancetta
