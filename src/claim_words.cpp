#include "claim_words.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "predictive.hpp"

namespace bilancetta
{

namespace
{

constexpr double refused_below = ClaimedReadings::refused_below;

std::string joined(const std::vector<std::string>& names, const char* last)
{
  std::string text;
  for (std::size_t i = 0; i < names.size(); ++i) {
    text += (i == 0 ? "" : i + 1 == names.size() ? fmt::format(" {} ", last) : ", ") + names[i];
  }
  return text;
}

// Not refused is not the same as likely. Null if nothing that weighs so is much likelier.
const ClaimVerdict::LookAlike* likelier_than_claim(const ClaimVerdict& v)
{
  const auto likeliest = std::max_element(v.look_alikes.begin(), v.look_alikes.end(),
                                          [](const auto& a, const auto& b) { return a.probability < b.probability; });
  const bool much = likeliest != v.look_alikes.end() && likeliest->probability >= std::max(0.2, 5.0 * v.probability);
  return much ? &*likeliest : nullptr;
}

std::string likelier_by(const ClaimVerdict& v, const ClaimVerdict::LookAlike& likelier)
{
  return fmt::format("by all that is known {} is likelier ({:.0f} % against {} %)", likelier.name,
                     100 * likelier.probability,
                     v.probability < 0.01 ? "under 1" : fmt::format("{:.0f}", 100 * v.probability));
}

std::string solid_words(const Claim& claim)
{
  return (claim.materials.empty() ? "" : "solid ") + claim.name;
}

}  // namespace

std::string likelier_words(const ClaimVerdict& verdict)
{
  const auto* likelier = likelier_than_claim(verdict);
  return likelier == nullptr ? ""
                             : fmt::format("The weight alone does not refuse {}, but {}", verdict.claim.name,
                                           likelier_by(verdict, *likelier));
}

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

namespace
{

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

// Ware that may be hollow or filled weighs unlike the claim.
std::string innocent_words(const ClaimVerdict& v, const Context& context)
{
  if (v.lighter) {
    return fmt::format(
        "The piece is lighter for its size than {}, which may be innocent: {}, a trapped bubble. Another metal under a "
        "coat would weigh so too. The weight cannot tell which.",
        solid_words(v.claim), context.form == Form::filled ? "filled ware" : "hollow ware, a filled handle");
  }
  return fmt::format(
      "The piece is heavier for its size than {}; a filling can do that, so the weight of filled "
      "ware cannot tell.",
      solid_words(v.claim));
}

// Neither the claim nor others are refused.
std::string open_choice(const ClaimVerdict& v, const std::vector<std::string>& others)
{
  // Some that are likely, then those that are farthest from what is claimed.
  constexpr std::size_t some = 3;
  std::vector<std::string> nearer;
  for (const std::string& name : others) {
    if (nearer.size() < some && std::find(v.also_fits.begin(), v.also_fits.end(), name) == v.also_fits.end()) {
      nearer.push_back(name);
    }
  }
  return fmt::format("The weight agrees with {}, but as well with {}{}{}: this weighing cannot choose.", v.claim.name,
                     joined(nearer, "or"), nearer.empty() ? "" : " and even ", joined(v.also_fits, "or"));
}

// A bare fineness is taken for silver's, or for that of the metal that has it to itself.
std::string other_metals_of_mark(const Tables& tables, std::string_view typed, const Claim& taken)
{
  typed.remove_prefix(typed.starts_with('.') ? 1 : 0);
  std::vector<std::string> others;
  for (const char* metal : {"silver", "gold", "platinum", "palladium"}) {
    const std::string name = fmt::format("{}-{}", metal, typed);
    if (const Claim* other = find_claim(tables, name); other != nullptr && other->key != taken.key) {
      others.push_back(name);
    }
  }
  return others.empty() ? ""
                        : fmt::format(" The mark {} stands on other metals too: if one is meant, say {}.", typed,
                                      joined(others, "or"));
}

std::string ruling_words(const Tables& tables, const ClaimVerdict& v, const Piece& piece)
{
  const Context& context = piece.context;
  std::vector<std::string> others = look_alikes_named(tables, v);
  const std::string also = others.empty() ? "" : fmt::format("; so it would with {}", joined(others, "and"));
  switch (v.result) {
    case ClaimResult::consistent:
      if (const auto* likelier = likelier_than_claim(v)) {
        std::erase(others, likelier->name);
        return fmt::format("{}{}.", likelier_words(v),
                           others.empty() ? "" : fmt::format("; nor does it refuse {}", joined(others, "or")));
      }
      return fmt::format("The weight agrees with {}{}. A filled piece can be made to weigh the same.", v.claim.name,
                         also);
    case ClaimResult::inconsistent:
      return fmt::format("The weight does not agree with {}: {}. {} can do that too.{}", solid_words(v.claim),
                         v.reading_compared,
                         v.lighter ? "A hollow, a lighter core, a clinging bubble or a piece that touched the cup"
                                   : "A heavier core or filling, or a slip in one of the readings,",
                         other_metals_of_mark(tables, piece.claim, v.claim));
    case ClaimResult::cannot_tell:
      break;
  }
  if (v.misread) {
    return fmt::format(
        "These readings say nothing of {}, for no piece of metal gives them: weigh it again, with the tare checked and "
        "the piece hanging free.",
        v.claim.name);
  }
  if (v.tail_probability < refused_below) {
    return innocent_words(v, context);
  }
  if (context.is_hollow_ware()) {
    return fmt::format(
        "The weight agrees with {}{}; but hollow or filled ware can be made to weigh so of other metals: the weight "
        "cannot tell.",
        v.claim.name, also);
  }
  if (!v.claim.plated_with.empty()) {
    const auto* likelier = likelier_than_claim(v);
    return fmt::format("The weight agrees with {}{}; but no weight sees so thin a coat{}.", v.claim.name, also,
                       likelier == nullptr ? ": it cannot tell" : ", and " + likelier_by(v, *likelier));
  }
  if (v.also_fits.empty()) {
    return fmt::format("The weight agrees with {}{}; but such a weighing is too coarse to say more.", v.claim.name,
                       also);
  }
  return open_choice(v, others);
}

}  // namespace

std::string because_of(const Tables& tables, const ClaimVerdict& verdict, const Piece& piece)
{
  return ruling_words(tables, verdict, piece) + (verdict.claim.meaning.empty() ? "" : " " + verdict.claim.meaning);
}

std::string settled_by(const ClaimVerdict& v, const Context& context)
{
  if (v.misread) {
    return "another weighing";
  }
  if (v.result != ClaimResult::cannot_tell) {
    return "a licensed assayer; X-ray fluorescence sees the skin only, and a notch, which sees deeper, leaves a mark";
  }
  if (v.tail_probability >= refused_below && !context.is_hollow_ware()) {
    return !v.claim.plated_with.empty()
               ? "the marks, worn spots, or a drop, which leaves a mark; no scale sees so thin a coat"
               : "a finer scale, or more metal of the same kind weighed together";
  }
  return std::string("the marks, a magnet, the sound and the seams of the piece") +
         (context.form == Form::unsure ? "; add --form solid if it is surely solid" : "");
}

}  // namespace bilancetta
