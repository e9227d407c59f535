#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <random>
#include <string>
#include <unordered_map>
#include <vector>

#include "bilancetta/analysis.hpp"

namespace bilancetta
{

/// What one piece says of each hypothesis, apart from any prior: ln(evidence x test likelihood) below the highest.
using MixRow = std::vector<float>;
MixRow mix_row_of(const Analysis& analysis, const Background& background);

/// The jar teaches the prior. The mix of materials among the pieces of one place is not known, and the pieces tell of
/// it. A jar is of some kinds: a kind is one row of the tables, one family, one build, or all that the tables expect,
/// as likely as the tables' prior has it. Kinds have shares from a finite Dirichlet (Ishwaran and Zarepour, Can. J.
/// Statist. 30 (2002) 269-283: close to a Dirichlet process), whose concentration the jar teaches too (Escobar and
/// West, J. Am. Stat. Assoc. 90 (1995) 577-588), so few kinds are learned from few pieces, and a jar as the tables
/// expect it keeps their prior. The mix is integrated, not estimated, by Gibbs sampling with a fixed seed; each kind is
/// drawn from all nodes given shares and other kinds, whichever pieces are of it, so that lookalikes change places.
///
/// Each place has a mix of its own (and so have even odds): what came from relays says nothing of breakers. The form
/// only excludes hypotheses. A lot counts as one piece (see lot.hpp). A piece never teaches itself: its posterior is
/// the mean over the sampled states of what the others make of it. Of more than a thousand pieces from one place a
/// thousand, evenly drawn, teach (Vitter's algorithm R, ACM Trans. Math. Softw. 11 (1985) 37-57); so memory is
/// constant.
///
/// Two passes over the same rows: add each in order, learn once, then apply to each.
class LearnedMix
{
 public:
  static constexpr std::size_t most_teachers = 1000;

  explicit LearnedMix(const Prepared& prepared);

  /// @param row  its number among all rows
  void add(long row, const Context& context, const std::string& lot, const MixRow& says);
  void learn();

  /// What the jar makes of each member beside the piece's own prior: a factor for Background::prior, up to one factor
  /// for all. @param analysis  of that row, held against the tables' prior
  [[nodiscard]] std::vector<double> factors_for(long row, const Context& context, const std::string& lot,
                                                const Analysis& analysis) const;
  /// Replaces posterior and builds by the learned ones.
  void apply(long row, const Context& context, const std::string& lot, Analysis& analysis) const;

  /// The mix of one place: expected share of each hypothesis in the jar; empty if no piece came from there.
  [[nodiscard]] std::vector<double> mix_of(const Context& context) const;

 private:
  friend class MixSampler;
  struct Teacher {
    std::vector<float> ln_sum;  ///< over its rows
    long rows = 0;
    std::vector<std::int16_t> chosen;  ///< kind in each kept state
  };
  // Kinds, how many teachers are of each, and what that makes of each node.
  struct State {
    double each = 0.0, all = 0.0;  ///< pieces that a kind counts for beforehand, and all pieces with these
    std::vector<int> node, count;
    std::vector<double> gain;
  };
  struct PlaceMix {
    std::vector<double> prior;    ///< of each hypothesis
    std::vector<double> of_node;  ///< prior of all hypotheses at a node
    std::vector<Teacher> teachers;
    std::vector<State> kept;
    std::vector<double> mean_factor;
    long offered = 0;
    std::mt19937_64 random{20240601U};
    std::vector<std::string> name;                ///< of each teacher: row number or lot
    std::unordered_map<std::string, int> called;  ///< teacher by name; -1: a lot that was passed over
  };
  /// The nodes that hold a hypothesis: itself, its family, its build, everything.
  [[nodiscard]] std::array<std::size_t, 4> nodes_of(std::size_t hypothesis) const;
  [[nodiscard]] double factor(const PlaceMix& place, const State& state, std::size_t hypothesis, int without) const;
  PlaceMix& place_of(const Context& context);
  [[nodiscard]] const PlaceMix* known_place(const Context& context) const;

  const Prepared* prepared_;
  std::vector<int> family_of_, build_of_;
  std::size_t families_ = 0;
  std::map<std::string, PlaceMix> places_;
};

}  // namespace bilancetta
