#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <string>
#include <unordered_map>
#include <utility>
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
/// The tables' rows are not quite what is in a jar, and many pieces would make much of the little by which they differ.
/// So of N teachers each counts as a / (a + N) of one, all together as less than `a` (the power form of the coarsened
/// posterior: Miller and Dunson, J. Am. Stat. Assoc. 114 (2019) 1113-1125), and no hypothesis of a piece becomes more
/// than 30 times likelier than by the tables.
///
/// Each place has a mix of its own (and so have even odds): what came from relays says nothing of breakers. The form
/// only excludes hypotheses. A lot counts as one piece (see lot.hpp). A piece never teaches itself: its posterior is
/// what the others make of it, over the sampled states. Of more than a thousand pieces from one place a thousand teach:
/// each has a ticket, a hash of what it says or of its lot's name, and the lowest thousand are taken. So memory is
/// constant but for some tens of bytes a row.
///
/// What is learned depends neither on the order of the rows nor on the number of threads: teachers are visited in the
/// order of what they say, and those that say the same are taught the same.
///
/// Two passes over the same rows: add each in order, learn once, then apply to each.
class LearnedMix
{
 public:
  /// @param most_teachers  of one place
  /// @param trusted_pieces  `a` above; judgement
  explicit LearnedMix(const Prepared& prepared, std::size_t most_teachers = 1000, double trusted_pieces = 100.0);

  /// @param row  its number among all rows
  void add(long row, const Context& context, const std::string& lot, const MixRow& says);
  /// @param threads  0: as many as the machine has; what is learned is the same
  /// @param seed  of the sampling: another shows how far that may be off
  void learn(int threads = 0, unsigned seed = 20240601U);

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
    std::vector<double> ln_sum;  ///< over its rows, in steps that add up alike in any order
    long rows = 0;
    std::vector<float> factor;  ///< what the others make of each hypothesis, over its prior
    std::uint64_t number = 0;   ///< of what it says, or of its lot's name
    [[nodiscard]] bool says_the_same(const Teacher& other) const
    {
      return rows == other.rows && ln_sum == other.ln_sum;
    }
  };
  struct PlaceMix {
    std::vector<double> prior;                         ///< of each hypothesis
    std::vector<double> of_node;                       ///< prior of all hypotheses at a node
    std::map<std::uint64_t, Teacher> seated;           ///< by ticket: the lowest teach
    std::unordered_map<std::uint64_t, long> pieces;    ///< how many pieces say the same, by what they say
    std::vector<std::pair<long, std::uint64_t>> says;  ///< what the piece of each row says, in order of rows
    std::vector<Teacher> teachers;                     ///< in order of what they say
    std::unordered_map<std::uint64_t, int> called;     ///< teacher by what it says or by its lot's name
    std::vector<float> mean_factor;                    ///< for whoever does not teach
  };
  /// The nodes that hold a hypothesis: itself, its family, its build, everything.
  [[nodiscard]] std::array<std::size_t, 4> nodes_of(std::size_t hypothesis) const;
  [[nodiscard]] static const Teacher* teacher_of(const PlaceMix& place, long row, const std::string& lot);
  PlaceMix& place_of(const Context& context);
  [[nodiscard]] const PlaceMix* known_place(const Context& context) const;

  const Prepared* prepared_;
  std::size_t most_teachers_;
  double trusted_pieces_;
  std::vector<int> family_of_, build_of_;
  std::size_t families_ = 0;
  std::map<std::string, PlaceMix> places_;
};

}  // namespace bilancetta
