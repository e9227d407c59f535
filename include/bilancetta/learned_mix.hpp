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
/// it. The prior of the tables is the centre of a Dirichlet tree (Dennis, Commun. Statist. Theory Meth. 20 (1991)
/// 4069-4081): one Dirichlet over builds, in each build one over families, in each family one over rows, so that a jar
/// of few materials is learned from few pieces, and a family from any of its rows. Each level has its own
/// concentration, taught by the jar too: from 1 to infinity, where the tables are right as they are (half the prior of
/// each level). The mix is integrated, not estimated, by collapsed Gibbs sampling (Liu, J. Am. Stat. Assoc. 89 (1994)
/// 958-966) with a fixed seed, each material's pieces also renamed together (MacEachern and Mueller, J. Comput. Graph.
/// Statist. 7 (1998) 223-238).
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
    std::vector<std::int16_t> chosen;  ///< hypothesis in each kept state
  };
  // How often each node of the tree was chosen, and how much counts weigh against the tables: 1 / concentration.
  struct State {
    std::array<double, 3> weight{};
    std::vector<double> row, family;
    std::array<double, 4> build{};
    double all = 0.0;
  };
  struct PlaceMix {
    std::vector<double> prior, family_prior;
    std::array<double, 4> build_prior{};
    std::vector<Teacher> teachers;
    std::vector<State> kept;
    std::vector<double> mean_factor;
    long offered = 0;
    std::mt19937_64 random{20240601U};
    std::vector<std::string> name;                ///< of each teacher: row number or lot
    std::unordered_map<std::string, int> called;  ///< teacher by name; -1: a lot that was passed over
  };
  void count(State& state, int hypothesis, double by) const;
  [[nodiscard]] double factor(const PlaceMix& place, const State& state, int hypothesis, int without) const;
  PlaceMix& place_of(const Context& context);
  [[nodiscard]] const PlaceMix* known_place(const Context& context) const;

  const Prepared* prepared_;
  std::vector<int> family_of_, build_of_, build_of_family_;
  std::map<std::string, PlaceMix> places_;
};

}  // namespace bilancetta
