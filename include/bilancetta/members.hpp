#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "bilancetta/density.hpp"
#include "bilancetta/drawn_share.hpp"
#include "bilancetta/hypothesis.hpp"
#include "bilancetta/pile.hpp"
#include "bilancetta/predictions.hpp"

namespace bilancetta
{

/// What every row of a batch asks of a member: small, and those of all members side by side (Members::traits).
struct MemberTraits {
  std::uint32_t hazards = 0;  ///< bit k: caution k of the tables counts for it
  Pile pile = Pile::undecided;
  Build build = Build::solid;
  Kind kind = Kind::solid;  ///< of the hypothesis, as the next
  int outer_material = -1;
  bool holds_silver = false, carries_cadmium = false;
  bool holds_precious = false;  ///< gold, palladium or platinum at all
  bool precious = false;        ///< 1 % of one of them or more: less is a film
  DrawnShare silver;            ///< mass fraction of silver given density; of nothing if none or if it serves verdicts
};

/// A hypothesis with the density it predicts, tabulated: p_H at the nodes of the common grid, per
/// g/cm3, the mean over draws (even steps along lines through z) of a Gaussian of the hypothesis'
/// scatter about each, integrated and not drawn.
///
/// The same draws serve the bands: a draw counts by the curve smoothed with the scatter, averaged from
/// its density to the next draw's (in batches: the table of silver given density that they fill). So
/// p_H ranks, the draws give bands, and the fit (fit.hpp) only describes the candidates that are shown.
struct Member : MemberTraits {
  /// Whom it serves: whole verdicts ask where draws lie, rows of a batch only for silver.
  enum class Serves { verdicts, rows, both };
  std::array<double, 3> other_precious{};  ///< typical mass fractions of Au, Pd and Pt
  bool fine = false;                       ///< `place` is of the finer draws
  Hypothesis hypothesis;
  GridFunction predicted;
  float highest = 0.0F;      ///< of predicted
  std::vector<float> place;  ///< of each draw, its density's position among the grid nodes; empty if it serves rows
};
/// A hazard counts if a material lists it, or it holds enough of a constituent that causes it.
bool counts_for(const Caution& caution, const Material& material);
/// Does that caution of the tables (none if -1) count for it?
[[nodiscard]] inline bool carries(const MemberTraits& traits, int caution)
{
  return caution >= 0 && (traits.hazards >> caution & 1U) != 0;
}
/// Whether a claim holds for pieces made like this.
bool makes_true(const Claim& claim, const MemberTraits& traits);
/// Without any table.
Member untabulated_member_of(const Tables& tables, const Hypothesis& hypothesis);
Member member_of(const Tables& tables, const Hypothesis& hypothesis, Member::Serves serves);
/// Its hypothesis with the places of finer draws, and nothing else: for bands of fractions that are shown.
Member finer(const Member& member);

/// Hypotheses of one kind, uncoated or coated for one size, tabulated.
struct MemberGroup {
  MemberGroup() = default;
  explicit MemberGroup(std::vector<Member> all);
  /// @param predicted  of each, which takes time to make
  MemberGroup(std::vector<Member> all, const std::vector<Pyramid>& predicted);
  std::vector<Member> members;
  Predictions predictions;
};

/// The hypotheses that a piece is held against: groups one after another. They must outlive it.
class Members
{
 public:
  Members() = default;
  explicit Members(std::vector<const MemberGroup*> groups);
  [[nodiscard]] std::size_t size() const { return all_.size(); }
  [[nodiscard]] const Member* operator[](std::size_t i) const { return all_[i]; }
  [[nodiscard]] const MemberTraits& traits(std::size_t i) const { return traits_[i]; }
  [[nodiscard]] auto begin() const { return all_.begin(); }
  [[nodiscard]] auto end() const { return all_.end(); }
  /// Sums of one value for each member, by Build.
  [[nodiscard]] std::array<double, 4> by_build(const std::vector<double>& each) const;
  /// Sum of one value for each member that holds silver.
  [[nodiscard]] double with_silver(const std::vector<double>& each) const noexcept;

  /// p(data | H) of each: integral of the curve times what it predicts.
  [[nodiscard]] std::vector<double> evidence(const LevelWeights& weights) const;
  /// The same of one, and its mass below the first node of the curve.
  [[nodiscard]] double under(const LevelWeights& curve, std::size_t i) const;
  [[nodiscard]] double mass_below(const LevelWeights& curve, std::size_t i) const;

 private:
  struct Part {
    const Predictions* predictions;
    int which;
  };
  [[nodiscard]] Part part_of(std::size_t i) const;
  std::vector<const MemberGroup*> groups_;
  std::vector<const Member*> all_;
  std::vector<MemberTraits> traits_;
  std::vector<double> holds_silver_;  // 1 or 0
  // Neighbours of one build.
  struct Run {
    Build build;
    std::size_t first, end;
  };
  std::vector<Run> runs_;
};

}  // namespace bilancetta
