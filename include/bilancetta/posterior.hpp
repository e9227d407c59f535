#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "bilancetta/bench_test.hpp"
#include "bilancetta/density.hpp"
#include "bilancetta/hypothesis.hpp"
#include "bilancetta/pile.hpp"
#include "bilancetta/predictions.hpp"
#include "bilancetta/share_histogram.hpp"

namespace bilancetta
{

/// A hypothesis with the density it predicts, tabulated: p_H at the nodes of the common grid, per
/// g/cm3, the mean over draws (even steps along lines through z) of a Gaussian of the hypothesis'
/// scatter about each, integrated and not drawn.
///
/// The same draws serve the bands: a draw counts by the curve smoothed with the scatter, averaged from
/// its density to the next draw's (in batches: the table of silver given density that they fill). So
/// p_H ranks, the draws give bands, and the fit (fit.hpp) only describes the candidates that are shown.
struct Member {
  // First what every row of a batch asks: it shares a line of the cache.
  std::uint32_t hazards = 0;  ///< bit k: caution k of the tables counts for it
  Pile pile = Pile::undecided;
  bool holds_silver = false;
  std::array<double, 3> other_precious{};  ///< typical mass fractions of Au, Pd and Pt
  bool fine = false;                       ///< `place` is of the finer draws
  Hypothesis hypothesis;
  GridFunction predicted;
  float highest = 0.0F;      ///< of predicted
  std::vector<float> place;  ///< of each draw, its density's position among the grid nodes
  ShareTable silver;         ///< mass fraction of silver given density; empty if none or not wanted
};
/// `with_silver` also tabulates silver, which batches need and a single piece does not.
Member member_of(const Tables& tables, const Hypothesis& hypothesis, bool with_silver);
/// Its hypothesis with the places of finer draws, and nothing else: for bands of fractions that are shown.
Member finer(const Member& member);

/// Hypotheses of one kind, uncoated or coated for one size, tabulated.
struct MemberGroup {
  MemberGroup() = default;
  explicit MemberGroup(std::vector<Member> all);
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
  [[nodiscard]] auto begin() const { return all_.begin(); }
  [[nodiscard]] auto end() const { return all_.end(); }
  /// Sums of one value for each member, by Build.
  [[nodiscard]] std::array<double, 4> by_build(const std::vector<double>& each) const;

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
  // Neighbours of one build.
  struct Run {
    Build build;
    std::size_t first, end;
  };
  std::vector<Run> runs_;
};

/// All hypotheses of some tables, tabulated once and then only read. Coated hypotheses depend on the
/// piece's size and are tabulated at volumes four times apart (0.001 to 16 cm3), each when first asked for.
class Prepared
{
 public:
  static constexpr int size_classes = 8;
  /// All size classes (for batches), or only that of one piece, exactly at its size.
  explicit Prepared(const Tables& tables);
  Prepared(const Tables& tables, const PieceSize& size);
  Prepared(const Prepared&) = delete;
  Prepared(Prepared&&) = default;

  [[nodiscard]] const Tables& tables() const { return *tables_; }
  /// The members for a piece of this volume; their order is the same for every volume.
  [[nodiscard]] const Members& members(double volume_cm3) const;

 private:
  void prepare_uncoated(const PieceSize& size);
  void prepare_coated(int size_class, const PieceSize& size) const;
  const Tables* tables_;
  bool one_size_ = false;
  // Neither moves once made: `Members` point into them.
  std::unique_ptr<MemberGroup> uncoated_;
  // Size classes are filled when first asked for.
  std::unique_ptr<std::array<MemberGroup, size_classes>> coated_;
  std::unique_ptr<std::array<Members, size_classes>> members_;
  std::unique_ptr<std::array<std::once_flag, size_classes>> once_;
};

/// What is known besides the weight.
struct Context {
  std::string place = "unknown";  ///< key of a Place
  std::string form = "solid";     ///< solid, hollow, filled, unsure
  bool even_odds = false;         ///< ignore where it was found and what is common
  Answers answers;
};

/// Prior mass of each member: builds by place, families within builds (the material's group; of a
/// layered piece the pair of groups, their weights multiplied with that of the pairing), rows within families by how
/// common each is; adding a row moves neither P(build) nor P(family). Form `solid` leaves hollow pieces out, `hollow`
/// and `filled` keep only those and the open mix. With even odds every material is alike as the body of the piece, and
/// a body alike bare, coated, faced or hollow. Sums to 1. @throws Error (unknown_key).
std::vector<double> prior_of(const Tables& tables, const Members& members, const Context& context);

/// The curve as Members::evidence takes it.
LevelWeights evidence_weights_of(const DensityCurve& curve);

/// Normalised prior x evidence x test; all 0 if nothing has any.
std::vector<double> posterior_of(const std::vector<double>& prior, const std::vector<double>& evidence,
                                 const std::vector<double>& test_likelihood);

}  // namespace bilancetta
