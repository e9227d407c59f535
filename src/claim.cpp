#include "bilancetta/claim.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <map>

#include "claim_words.hpp"
#include "predictive.hpp"

namespace bilancetta
{

namespace
{

constexpr double refused_below = ClaimedReadings::refused_below;

// What the claim would read, and the shares that can be read at all; empty if the reading is none of them.
struct Claimed {
  std::vector<const Member*> members;  // that make it true
  ClaimedReadings readings;
  std::vector<ShareReach> reaches;
};

ShareReach reach_of(const Analysis& analysis, const Member& member)
{
  return Predictive::reach_of(analysis.curve, analysis.read_share, member.predicted);
}
Predictive predictive_of(const Analysis& analysis, const Member& member)
{
  return {analysis.curve, analysis.read_share, member.predicted};
}

Claimed claimed_readings(const Analysis& analysis, const Claim& claim)
{
  Claimed claimed;
  for (std::size_t i = 0; i < analysis.members->size(); ++i) {
    if (makes_true(claim, analysis.members->traits(i))) {
      claimed.members.push_back((*analysis.members)[i]);
      claimed.reaches.push_back(reach_of(analysis, *claimed.members.back()));
    }
  }
  const bool can_be_read = std::any_of(claimed.reaches.begin(), claimed.reaches.end(),
                                       [&](const ShareReach& r) { return r.holds(analysis.read_share); });
  for (const Member* member : claimed.members) {
    if (can_be_read) {
      claimed.readings.add(predictive_of(analysis, *member));
    }
  }
  return claimed;
}

// Lightest of the pieces that make the claim true, each typical of its kind.
double lightest_of(const Claimed& claimed)
{
  const double zero[max_variables] = {};
  double lightest = 1e9;
  for (const Member* member : claimed.members) {
    lightest = std::min(lightest, member->hypothesis.evaluate(zero).density);
  }
  return lightest;
}

void judge_opposite(const Tables& tables, const Analysis& analysis, const Claimed& claimed, const Member& opposite,
                    ClaimRuling& ruling)
{
  const ShareReach reach = reach_of(analysis, opposite);
  if (std::none_of(claimed.reaches.begin(), claimed.reaches.end(),
                   [&](const ShareReach& r) { return r.meets(reach); })) {
    return;
  }
  const Predictive predictive = predictive_of(analysis, opposite);
  const double power = predictive.probability_that([&](double share) { return claimed.readings.refuses(share); });
  if (power >= power_needed) {
    return;
  }
  const std::string& name = tables.materials[opposite.outer_material].name;
  ruling.not_refused.push_back(name);
  if (predictive.tail_at(analysis.read_share) >= refused_below) {
    ruling.also_fits.push_back(name);
  }
}

void find_not_refused(const Tables& tables, const Analysis& analysis, const Claimed& claimed, Opposites which,
                      ClaimRuling& ruling)
{
  std::vector<int> opposites = ruling.claim.opposites;
  if (which == Opposites::as_needed) {
    std::reverse(opposites.begin(), opposites.end());  // the last is nearest in most rows
  }
  for (const int opposite : opposites) {
    for (std::size_t i = 0; i < analysis.members->size(); ++i) {
      const MemberTraits& traits = analysis.members->traits(i);
      if (traits.kind == Kind::solid && traits.outer_material == opposite) {
        judge_opposite(tables, analysis, claimed, *(*analysis.members)[i], ruling);
      }
    }
    if (which == Opposites::as_needed && !ruling.not_refused.empty()) {
      return;
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
    const bool precious = std::find(precious_metals.begin(), precious_metals.end(), key) != precious_metals.end();
    if (precious && c.fraction.typical > highest) {
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

// That it is true, by all that is known.
double probability_of(const Claim& claim, const Analysis& analysis)
{
  double probability = 0.0;
  for (std::size_t i = 0; i < analysis.posterior.size(); ++i) {
    probability += makes_true(claim, analysis.members->traits(i)) ? analysis.posterior[i] : 0.0;
  }
  return probability;
}

// Other solid materials and coated pieces that would not be refused by the same weight.
void find_look_alikes(const Tables& tables, const Analysis& analysis, ClaimVerdict& verdict)
{
  constexpr double passes_from = 0.05;
  std::map<int, double> probability;  // of all but the coated pieces that are listed themselves
  const auto listed = [&](const Hypothesis& h) {
    return h.kind == Kind::plated && passes_for(tables, verdict.claim, h);
  };
  for (std::size_t i = 0; i < analysis.posterior.size(); ++i) {
    const Hypothesis& h = (*analysis.members)[i]->hypothesis;
    if (h.kind != Kind::open_mix && !makes_true(verdict.claim, analysis.members->traits(i)) && !listed(h)) {
      probability[h.outer_material] += analysis.posterior[i];
    }
  }
  std::vector<ClaimVerdict::LookAlike> all;
  for (std::size_t i = 0; i < analysis.posterior.size(); ++i) {
    const Member& member = *(*analysis.members)[i];
    const Hypothesis& h = member.hypothesis;
    if (highest_possible_tail(analysis, i) >= passes_from && !makes_true(verdict.claim, member) &&
        passes_for(tables, verdict.claim, h)) {
      const Predictive predictive = predictive_of(analysis, member);
      if (predictive.tail_at(analysis.read_share) >= passes_from) {
        all.push_back(look_alike_of(tables, h));
        all.back().probability = listed(h) ? analysis.posterior[i] : probability[h.outer_material];
      }
    }
  }
  verdict.look_alikes = shortened(std::move(all), 8, 2);
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

}  // namespace

std::string_view name_of(ClaimResult result)
{
  constexpr std::string_view names[] = {"consistent", "inconsistent", "cannot-tell"};
  return names[static_cast<int>(result)];
}

bool is_innocent(Form form, bool lighter)
{
  return form == Form::filled || (form != Form::solid && lighter);
}

ClaimRuling claim_ruling_of(const Tables& tables, const Analysis& analysis, const Piece& piece, Opposites which)
{
  ClaimRuling r;
  r.claim = claim_called(tables, piece.claim);
  const Claimed claimed = claimed_readings(analysis, r.claim);
  r.tail_probability = claimed.readings.tail_at(analysis.read_share);
  r.lighter = analysis.density.value < lightest_of(claimed);
  r.misread = no_metal_weighs_so(analysis) || rests_on_the_bottom(piece.weighing);
  if (r.misread) {
    return r;
  }
  if (r.tail_probability < refused_below) {
    r.result = is_innocent(piece.context.form, r.lighter) ? ClaimResult::cannot_tell : ClaimResult::inconsistent;
  } else {
    if (which == Opposites::all || !piece.context.is_hollow_ware()) {
      find_not_refused(tables, analysis, claimed, which, r);
    }
    const bool tells = r.not_refused.empty() && !piece.context.is_hollow_ware();
    r.result = tells ? ClaimResult::consistent : ClaimResult::cannot_tell;
  }
  return r;
}

std::string row_remark_of(const Tables& tables, const Analysis& analysis, const ClaimRuling& ruling)
{
  if (ruling.result == ClaimResult::inconsistent) {
    return fmt::format("The claim was taken as {}.", ruling.claim.name);  // a bare mark may have meant another metal
  }
  constexpr double leaves_room = 0.2;  // for something much likelier; else there is no need to look for it
  ClaimVerdict v;
  static_cast<ClaimRuling&>(v) = ruling;
  v.probability = probability_of(v.claim, analysis);
  if (ruling.result != ClaimResult::consistent || v.probability > leaves_room) {
    return "";
  }
  find_look_alikes(tables, analysis, v);
  const std::string words = likelier_words(v);
  return words.empty() ? "" : words + ".";
}

ClaimVerdict claim_verdict_of(const Tables& tables, const Analysis& analysis, const Piece& piece)
{
  ClaimVerdict v;
  static_cast<ClaimRuling&>(v) = claim_ruling_of(tables, analysis, piece, Opposites::all);
  v.probability = probability_of(v.claim, analysis);
  find_look_alikes(tables, analysis, v);
  v.reading_compared = reading_compared(tables, analysis, piece.weighing, v.claim);
  v.because = because_of(tables, v, piece);
  v.would_settle = settled_by(v, piece.context);
  return v;
}

}  // namespace bilancetta
