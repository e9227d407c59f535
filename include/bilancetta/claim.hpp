#pragma once

#include <string>
#include <vector>

#include "bilancetta/analysis.hpp"

namespace bilancetta
{

enum class ClaimResult { consistent, inconsistent, cannot_tell };
std::string_view name_of(ClaimResult result);

/// Is the piece what it is said to be? Density can agree with a claim or refuse it; it proves none.
struct ClaimRuling {
  Claim claim;
  ClaimResult result = ClaimResult::cannot_tell;
  double tail_probability = 0.0;         ///< prior predictive tail of the claim (largest of its materials)
  bool lighter = false;                  ///< than the claim's materials
  bool misread = false;                  ///< the readings are a slip and say nothing of the claim
  std::vector<std::string> also_fits;    ///< those of not_refused that this very reading fits
  std::vector<std::string> not_refused;  ///< opposites that this weighing could not have refused
};

/// A ruling with its reasons.
struct ClaimVerdict : ClaimRuling {
  std::string because;       ///< a whole sentence
  double probability = 0.0;  ///< that it is true, by all that is known
  struct LookAlike {
    std::string key, name;
    std::string over;          ///< key of the core if it is a coated piece, else empty
    std::string group;         ///< family of the material, or of the core
    double probability = 0.0;  ///< posterior; of a solid material all builds of it together
  };
  std::vector<LookAlike> look_alikes;  ///< other materials and coated pieces that the same weight would fit
  std::string reading_compared;        ///< what the claim would have read, and what was read
  std::string would_settle;
};

/// Chance of refusing an opposite that a weighing must have to say anything for the claim.
inline constexpr double power_needed = 0.8;

/// Opposites that are told of: all, or no more than the result needs, which is quicker.
enum class Opposites { all, as_needed };
/// The rule: inconsistent if the claim's tail is below 1 %; consistent if not, and each opposite of
/// the claim would have been refused in at least 80 % of such weighings; cannot-tell otherwise, for unsure
/// ware lighter than claimed, and for hollow and filled ware but hollow ware heavier than claimed. So a true claim is
/// called inconsistent in at most 1 % of weighings.
/// @param which  opposites are told of
ClaimRuling claim_ruling_of(const Tables& tables, const Analysis& analysis, const Piece& piece, Opposites which);
/// Whether ware of this form (as in Context) may weigh lighter, or heavier, than its claim without any deceit.
bool is_innocent(Form form, bool lighter);

/// What a row of a batch says of a ruling beside it, as sentences: what a claim that is called inconsistent was taken
/// as, and what is much likelier than one that is called consistent; empty if neither.
std::string row_remark_of(const Tables& tables, const Analysis& analysis, const ClaimRuling& ruling);

/// The ruling, and the look-alikes, sentences and remedies that go with it.
ClaimVerdict claim_verdict_of(const Tables& tables, const Analysis& analysis, const Piece& piece);

}  // namespace bilancetta
