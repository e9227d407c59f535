#pragma once

#include <Eigen/Core>
#include <array>
#include <cstdint>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "bilancetta/group_sums.hpp"
#include "bilancetta/mixed_heap.hpp"
#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// What the jar needs to know of one row.
struct JarRow {
  std::string lot, pile, next, context;                           ///< context: place, form and answers, as one key
  std::string reagent = "chromate";                               ///< as in Answers
  double mass_g = 0.0, mass_u_g = 0.0, mass_linearity_u_g = 0.0;  ///< of all pieces of the row, as Mass has it
  double density = 0.0, density_u = 0.0;
  double volume_each_cm3 = 0.0;
  long count = 1;
  int next_effort = 1;  ///< of `next`, 1 to 8
  bool explained = true, tested = false;
  bool hollow = false;                       ///< or filled: its weight tells nothing of its metal
  bool known = false;                        ///< a reference piece: nothing of it is counted
  bool known_unfit = false;                  ///< and it does not read what is known of it
  bool repeat = false;                       ///< another row has weighed this piece: likewise
  std::uint32_t cautions = 0;                ///< bit k: caution k of the tables is shown for it
  std::uint32_t of_place = 0;                ///< the same of its place and of the drops used, which have no probability
  std::vector<JarExplanation> explanations;  ///< empty: nothing fits, or unlike pieces together
  /// Unlike pieces weighed together: least and most of each metal, mass fractions.
  std::optional<std::array<std::pair<double, double>, 4>> bounds;
  /// d(grams of silver) / d(shared parameter of the sitting), if the sitting was adjusted.
  Eigen::VectorXd sensitivity;
};

/// What can be said beforehand: mean and spread over the prior draws of the gold, palladium and platinum that a
/// hypothesis holds, and what mixtures may hold.
class PreciousContent
{
 public:
  explicit PreciousContent(const Tables& tables);
  /// Au, Pd and Pt of a member; null if it holds none. Looked at when first asked for, by any thread.
  [[nodiscard]] const std::array<ShareMoments, 3>* of(const Member& member) const;
  /// @param metal  index into precious_metals
  [[nodiscard]] const MixedHeap& mixed(std::size_t metal) const { return mixed_[metal]; }

 private:
  std::array<int, 3> constituents_{};
  std::vector<MixedHeap> mixed_;
  mutable std::mutex mutex_;
  mutable std::unordered_map<const Member*, std::array<ShareMoments, 3>> known_;
};
/// Effort of a bench test, 1 to 8, or that of pooling like pieces. @param next  as in a row
int effort_of(const Tables& tables, const std::string& next);
/// A row from its analysis; lot, next and sensitivity are left to the caller. @param silver  of each plausible member,
/// from silver_fraction_of
JarRow jar_row_of(const Tables& tables, const PreciousContent& content, const Piece& piece, const Analysis& analysis,
                  const Background& background, const std::vector<int>& plausible,
                  const std::vector<ShareMoments>& silver, Pile pile);
/// The row of unlike pieces weighed together, by weigh_up_mixed; without bounds if no mixture explains it.
JarRow mixed_jar_row_of(const Tables& tables, const PreciousContent& content, const Piece& piece,
                        const Analysis& analysis);

struct JarOptions {
  double level = 0.95;
  Prices prices;
  Eigen::MatrixXd shared_covariance;  ///< S of the sitting's shared parameters, or empty
};

/// A band of a sum that is simulated, with its mean, and the standard errors that its draws leave.
struct TotalBand : Band {
  double mean = 0.0;
  double median_u = 0.0, low_u = 0.0, high_u = 0.0;
};
struct MetalTotal {
  std::string metal;
  TotalBand alike_g;        ///< like pieces taken as one kind: the band to rely on
  TotalBand independent_g;  ///< every row a kind of its own, but a lot still one
};
struct PileTotal {
  std::string pile;
  long pieces = 0;
  double mass_g = 0.0;
  TotalBand silver_g;
};
struct LotTotal {
  std::string lot;
  long rows = 0, pieces = 0;
  double mass_g = 0.0;
  TotalBand silver_g;
  int best = -1;  ///< hypothesis
  double probability = 0.0;
  bool partly_suspect = false;  ///< some of its pieces lie with the cadmium suspects, others elsewhere
  std::optional<std::pair<double, double>> unlike;  ///< lightest and heaviest, g/cm3, if it cannot be one material
};

struct JarSummary {
  double level = 0.95;
  long rows = 0, unusable = 0, unfitting = 0, unexplained = 0, mixed_rows = 0, known_rows = 0, known_unfit_rows = 0,
       repeat_rows = 0, pieces = 0, hollow = 0, mixed_pieces = 0;
  long kinds = 0;           ///< groups: lots as well
  long kind_rows = 0;       ///< counted rows that stand in no lot
  double last_row_g = 0.0;  ///< of `mass_g`: a totals line that a sheet ends with weighs as much as all others
  double mass_g = 0.0, unfitting_g = 0.0, hollow_g = 0.0, mixed_g = 0.0, unexplained_g = 0.0;
  std::vector<MetalTotal> metals;  ///< in the order of precious_metals; mixed heaps are not in them
  std::array<std::pair<double, double>, 4> mixed_bounds_g{};  ///< of the mixed heaps
  std::vector<PileTotal> piles;
  std::vector<LotTotal> lots;
  std::map<int, std::map<std::string, long>> cautions;  ///< pieces by caution and pile; "" what is on no pile
  std::uint32_t of_place = 0;                           ///< cautions of places and drops, as in JarRow
  long undecided = 0;
  std::string next;  ///< the test with the most undecided pieces for its effort, and how many ask for it
  long next_pieces = 0;
  std::string next_reagent;         ///< of those that ask for it, the one to take most care with
  std::uint32_t next_cautions = 0;  ///< of what they may hold, as in JarRow
  double sitting_u_g = 0.0;         ///< of silver, from what the sitting's readings share
  std::optional<TotalBand> worth;   ///< at the prices, less what a buyer keeps
  double metal_price = 0.0;         ///< what buying the same metal would cost, median
  std::vector<int> unpriced;        ///< metals that the jar may hold and that have no price, so are not in `worth`
  Prices prices;
};

/// What a jar of pieces holds. Rows come in order from one thread; memory is constant but for lots and kinds.
///
/// A group is a lot, or a kind: rows of the same context, size class and densities that overlap. All rows of a group
/// are the same material. A lot's probabilities are those of LotSums; a kind's are the mean of its rows' by mass. Given
/// the material, the departures of its recipe are shared by all its pieces. Totals are sums over groups by simulation,
/// seed fixed.
class Jar
{
 public:
  void add(const JarRow& row);
  void add_unusable() { ++so_far_.rows, ++so_far_.unusable; }
  [[nodiscard]] JarSummary summary(const JarOptions& options) const;

  struct Group {
    double mass_g = 0.0, mass_squared = 0.0, density_g = 0.0, density_u_g = 0.0;
    double mass_variance = 0.0, mass_linearity_u_g = 0.0;  ///< of the sum: by the rows' own errors, g2; shared, g
    long rows = 0, pieces = 0;

    void add(const JarRow& row);
    void join(const Group& other);
  };
  /// Its pieces are of one material wherever they lie.
  struct Lot : Group {
    std::map<std::string, double> pile_g;
    LotSums sums;
    FarthestApart apart;
  };
  using Lots = std::map<std::string, Lot>;
  /// What of a kind lies on one pile.
  struct OnPile {
    double mass_g = 0.0;
    KindSums sums;
  };
  struct Kind : Group {
    std::map<std::string, OnPile> piles;

    void join(const Kind& other);
    [[nodiscard]] KindSums sums() const;  ///< of all piles
  };

 private:
  // Those that ask for one test.
  struct Asked {
    long pieces = 0;
    int effort = 0;  // for one
    std::string reagent;
    std::uint32_t cautions = 0;

    void add(const JarRow& row);
  };
  [[nodiscard]] std::vector<Kind> joined_kinds() const;
  void add_to_group(const JarRow& row);
  void choose_next(JarSummary& summary) const;

  JarSummary so_far_;  ///< counts
  Lots lots_;
  std::map<std::string, std::map<int, Kind>> kinds_;  ///< by context and size, then by density
  std::map<std::string, std::pair<long, double>> piles_;
  std::map<std::string, Asked> next_;
  Eigen::VectorXd sensitivity_;
};

}  // namespace bilancetta
