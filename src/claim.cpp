#include "bilancetta/claim.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <map>

#include "predictive.hpp"

namespace bilancetta
{

namespace
{

constexpr double refused_below = ClaimedReadings::refused_below;
constexpr double power_needed = 0.80;

// What the claim would read, and the shares that can be read at all; empty if the reading is none of them.
struct Claimed {
  ClaimedReadings readings;
  std::vector<ShareReach> reaches;
};

Claimed claimed_readings(const Analysis& analysis, const Claim& claim)
{
  std::vector<const GridFunction*> predicted;
  Claimed claimed;
  for (const Member* member : *analysis.members) {
    if (makes_true(claim, member->hypothesis)) {
      predicted.push_back(&member->predicted);
      claimed.reaches.push_back(Predictive::reach_of(analysis.curve, analysis.read_share, member->predicted));
    }
  }
  const bool can_be_read = std::any_of(claimed.reaches.begin(), claimed.reaches.end(),
                                       [&](const ShareReach& r) { return r.holds(analysis.read_share); });
  if (can_be_read) {
    for (const GridFunction* one : predicted) {
      claimed.readings.add({analysis.curve, analysis.read_share, *one});
    }
  }
  return claimed;
}

// Lightest of the pieces that make the claim true, each typical of its kind.
double lightest_claimed(const Analysis& analysis, const Claim& claim)
{
  const double zero[max_variables] = {};
  double lightest = 1e9;
  for (const Member* member : *analysis.members) {
    if (makes_true(claim, member->hypothesis)) {
      lightest = std::min(lightest, member->hypothesis.evaluate(zero).density);
    }
  }
  return lightest;
}

void judge_opposite(const Tables& tables, const Analysis& analysis, const Claimed& claimed, const Member& opposite,
                    ClaimRuling& ruling)
{
  const ShareReach reach = Predictive::reach_of(analysis.curve, analysis.read_share, opposite.predicted);
  if (std::none_of(claimed.reaches.begin(), claimed.reaches.end(),
                   [&](const ShareReach& r) { return r.meets(reach); })) {
    return;
  }
  const Predictive predictive(analysis.curve, analysis.read_share, opposite.predicted);
  const double power = predictive.probability_that([&](double share) { return claimed.readings.refuses(share); });
  if (power >= power_needed) {
    return;
  }
  const std::string& name = tables.materials[opposite.hypothesis.outer_material].name;
  ruling.not_refused.push_back(name);
  if (predictive.tail_at(analysis.read_share) >= refused_below) {
    ruling.also_fits.push_back(name);
  }
}

void find_not_refused(const Tables& tables, const Analysis& analysis, const Claimed& claimed, ClaimRuling& ruling)
{
  for (const int opposite : ruling.claim.opposites) {
    for (const Member* member : *analysis.members) {
      if (member->hypothesis.kind == Kind::solid && member->hypothesis.outer_material == opposite) {
        judge_opposite(tables, analysis, claimed, *member, ruling);
      }
    }
  }
}

// The metal that a mark speaks of: the precious one there is most of, or -1.
int precious_metal_of(const Tables& tables, const Material& material)
{
  int most = -1;
  double highest = 0.0;
  for (const Component& c : material.components) {
    const std::string& key = tables.constituents[c.constituent].key;
    if ((key == "Ag" || key == "Au" || key == "Pt" || key == "Pd") && c.fraction.typical > highest) {
      most = c.constituent;
      highest = c.fraction.typical;
    }
  }
  return most;
}

// A coated piece may pass for the claim if its coat is of the claimed metal: silver plate for a silver fineness.
bool passes_for(const Tables& tables, const Claim& claim, const Hypothesis& h)
{
  if (h.kind != Kind::plated || claim.materials.empty()) {
    return h.kind == Kind::solid;
  }
  const int claimed = precious_metal_of(tables, tables.materials[claim.materials.front()]);
  return claimed >= 0 && claimed == precious_metal_of(tables, tables.materials[h.outer_material]);
}

ClaimVerdict::LookAlike look_alike_of(const Tables& tables, const Hypothesis& h)
{
  const Material& outer = tables.materials[h.outer_material];
  if (h.kind == Kind::plated) {
    const Material& core = tables.materials[h.inner_material];
    return {outer.key, fmt::format("{} plate on {}", outer.name, core.name), core.key, core.group + " core", 0.0};
  }
  return {outer.key, outer.name, "", outer.group, 0.0};
}

// The likeliest, but no family alone: at most so many of each.
std::vector<ClaimVerdict::LookAlike> shortened(std::vector<ClaimVerdict::LookAlike> all, std::size_t most,
                                               std::ptrdiff_t most_of_family)
{
  std::stable_sort(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.probability > b.probability; });
  std::vector<ClaimVerdict::LookAlike> kept;
  for (const auto& one : all) {
    const auto family = std::count_if(kept.begin(), kept.end(), [&](const auto& k) { return k.group == one.group; });
    if (kept.size() < most && family < most_of_family) {
      kept.push_back(one);
    }
  }
  return kept;
}

// Other solid materials and coated pieces that would not be refused by the same weight.
void find_look_alikes(const Tables& tables, const Analysis& analysis, ClaimVerdict& verdict)
{
  std::map<int, double> probability;  // of all but the coated pieces that are listed themselves
  const auto listed = [&](const Hypothesis& h) {
    return h.kind == Kind::plated && passes_for(tables, verdict.claim, h);
  };
  for (std::size_t i = 0; i < analysis.posterior.size(); ++i) {
    const Hypothesis& h = (*analysis.members)[i]->hypothesis;
    if (h.kind != Kind::open_mix && !makes_true(verdict.claim, h) && !listed(h)) {
      probability[h.outer_material] += analysis.posterior[i];
    }
  }
  std::vector<ClaimVerdict::LookAlike> all;
  for (std::size_t i = 0; i < analysis.posterior.size(); ++i) {
    const Member& member = *(*analysis.members)[i];
    const Hypothesis& h = member.hypothesis;
    const bool near = analysis.evidence[i] > 0.05 * member.highest * std::max(analysis.weights.area, 1e-300);
    if (near && !makes_true(verdict.claim, h) && passes_for(tables, verdict.claim, h)) {
      const Predictive predictive(analysis.curve, analysis.read_share, member.predicted);
      if (predictive.tail_at(analysis.read_share) >= 0.05) {
        all.push_back(look_alike_of(tables, h));
        all.back().probability = listed(h) ? analysis.posterior[i] : probability[h.outer_material];
      }
    }
  }
  verdict.look_alikes = shortened(std::move(all), 8, 2);
}

std::string joined(const std::vector<std::string>& names, const char* last)
{
  std::string text;
  for (std::size_t i = 0; i < names.size(); ++i) {
    text += (i == 0 ? "" : i + 1 == names.size() ? fmt::format(" {} ", last) : ", ") + names[i];
  }
  return text;
}

// "it would have read 3.72 g, yours read 4.40 g", as the scale shows it.
std::string reading_compared(const Tables& tables, const Analysis& analysis, const Weighing& weighing,
                             const Claim& claim)
{
  if (claim.materials.empty()) {
    return "such a piece would hardly ever read so";
  }
  const double claimed = typical_density_g_cm3(tables.materials[claim.materials.front()], tables.constituents);
  const int decimals = decimals_shown(liquid_scale_of(weighing));
  return fmt::format("solid metal of that kind would have read about {:.{}f} g, yours read {:.{}f} g",
                     expected_reading_g(analysis, weighing, claimed), decimals, reading_in_liquid_g(weighing.readings),
                     decimals);
}

// Neighbours of the claim's own family, then the likeliest strangers, a family each.
std::vector<std::string> look_alikes_named(const Tables& tables, const ClaimVerdict& v)
{
  const std::string own = v.claim.materials.empty() ? "" : tables.materials[v.claim.materials.front()].group;
  std::vector<ClaimVerdict::LookAlike> family;
  std::vector<ClaimVerdict::LookAlike> strangers;
  for (const auto& one : v.look_alikes) {
    (one.group == own ? family : strangers).push_back(one);
  }
  strangers = shortened(std::move(strangers), 2, 1);
  std::vector<std::string> names;
  for (const auto* some : {&family, &strangers}) {
    for (const auto& one : *some) {
      names.push_back(one.name);
    }
  }
  return names;
}

std::string solid_words(const Claim& claim)
{
  return (claim.materials.empty() ? "" : "solid ") + claim.name;
}

std::string because_of(const Tables& tables, const ClaimVerdict& v, const std::string& form)
{
  const std::vector<std::string> others = look_alikes_named(tables, v);
  const std::string also = others.empty() ? "" : fmt::format("; so it would with {}", joined(others, "and"));
  switch (v.result) {
    case ClaimResult::consistent:
      return fmt::format("The weight agrees with {}{}. A filled piece can be made to weigh the same.", v.claim.name,
                         also);
    case ClaimResult::inconsistent:
      return fmt::format("The weight does not agree with {}: {}. {} can do that too.", solid_words(v.claim),
                         v.reading_compared,
                         v.lighter ? "A hollow, a lighter core or a clinging bubble"
                                   : "A heavier core or filling, or a piece that touched the cup,");
    case ClaimResult::cannot_tell:
      break;
  }
  if (v.tail_probability < refused_below && v.lighter) {
    return fmt::format(
        "The piece is lighter for its size than {}, which may be innocent: {} ware, a filled handle, a trapped "
        "bubble. Another metal under a coat would weigh so too. The weight cannot tell which.",
        solid_words(v.claim), form == "unsure" ? "hollow" : form);
  }
  if (v.tail_probability < refused_below) {
    return fmt::format(
        "The piece is heavier for its size than {}; a filling can do that, so the weight of filled "
        "ware cannot tell.",
        solid_words(v.claim));
  }
  if (v.also_fits.empty()) {
    return fmt::format("The weight agrees with {}{}; but such a weighing is too coarse to say more.", v.claim.name,
                       also);
  }
  return fmt::format("The weight agrees with {}, but as well with {}: this weighing cannot choose.", v.claim.name,
                     joined(v.also_fits, "or"));
}

}  // namespace

std::string_view name_of(ClaimResult result)
{
  constexpr std::string_view names[] = {"consistent", "inconsistent", "cannot-tell"};
  return names[static_cast<int>(result)];
}

ClaimRuling claim_ruling_of(const Tables& tables, const Analysis& analysis, const Piece& piece)
{
  ClaimRuling r;
  r.claim = claim_called(tables, piece.claim);
  const Claimed claimed = claimed_readings(analysis, r.claim);
  r.tail_probability = claimed.readings.tail_at(analysis.read_share);
  r.lighter = analysis.density.value < lightest_claimed(analysis, r.claim);
  if (r.tail_probability < refused_below) {
    const bool may_be_hollow = piece.context.form != "solid";
    const bool innocent = piece.context.form == "filled" || (may_be_hollow && r.lighter);
    r.result = innocent ? ClaimResult::cannot_tell : ClaimResult::inconsistent;
  } else {
    find_not_refused(tables, analysis, claimed, r);
    r.result = r.not_refused.empty() ? ClaimResult::consistent : ClaimResult::cannot_tell;
  }
  return r;
}

ClaimVerdict claim_verdict_of(const Tables& tables, const Analysis& analysis, const Piece& piece)
{
  ClaimVerdict v{claim_ruling_of(tables, analysis, piece), {}, {}, {}, {}};
  find_look_alikes(tables, analysis, v);
  v.reading_compared = reading_compared(tables, analysis, piece.weighing, v.claim);
  v.because = because_of(tables, v, piece.context.form);
  if (v.result == ClaimResult::cannot_tell && v.tail_probability >= refused_below) {
    v.would_settle = v.claim.plated_with >= 0
                         ? "the marks, worn spots, or a drop, which leaves a mark; no scale sees so thin a coat"
                         : "a finer scale, or more metal of the same kind weighed together";
  } else if (v.result == ClaimResult::cannot_tell) {
    v.would_settle =
        piece.context.form == "unsure"
            ? "the marks, a magnet, the sound and the seams of the piece; add --form solid if it is surely solid"
            : "the marks, a magnet, the sound and the seams of the piece";
  } else {
    v.would_settle =
        "a licensed assayer; X-ray fluorescence sees the skin only, and a notch, which sees deeper, leaves a mark";
  }
  return v;
}

}  // namespace bilancetta
