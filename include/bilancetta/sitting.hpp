#pragma once

#include <Eigen/Core>

#include <array>
#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "bilancetta/analysis.hpp"

namespace bilancetta
{

/// What the pieces of one sitting share. Liquid: offset of its density, g/cm3. Zero: offset of every reading in
/// the liquid (tare, holder, evaporation), g. Drift: change of that offset from the first row to the last, g. Gain:
/// relative error of the scale's span; it cancels in the density.
enum class SharedError { liquid_density, zero, drift, gain };
inline constexpr int shared_error_count = 4;
using SharedVector = Eigen::Matrix<double, shared_error_count, 1>;
using SharedMatrix = Eigen::Matrix<double, shared_error_count, shared_error_count>;
std::string_view name_of(SharedError error);
std::string_view unit_of(SharedError error);

/// Standard uncertainties before any row is seen (judgement; docs/uncertainty.md). That of the liquid is the
/// weighing's own. Zero and drift each take 0.4 of the variance of linearity, evaporation and drift of a reading in the
/// liquid: the single weighing keeps the rest, so that a sitting that learns nothing changes nothing.
struct SittingPriors {
  double more_zero_u_g = 0.0;   ///< on top, for a holder or tare that may be off by more
  double more_drift_u_g = 0.0;  ///< likewise, over the whole sitting
  double gain_u = 0.0005;
};

/// What one way of working has in common: rows of one sitting are adjusted together only if all this is alike.
struct SittingBench {
  Way way = Way::rise;
  Scale scale, liquid_scale;
  bool two_scales = false;
  Surroundings
      surroundings;  ///< the liquid's kind, the cup and the thread count; air, wetting and temperature may vary

  [[nodiscard]] bool is_that_of(const Weighing& weighing) const;
  /// By what is alike; of benches that are one neither stands first.
  [[nodiscard]] bool operator<(const SittingBench& other) const;
};

/// A number that informs the shared errors.
enum class SittingReading { dry, in_liquid, resting, known_density, known_mass };
std::string_view name_of(SittingReading reading);

/// How one such number fits the others of the sitting.
struct CheckedReading {
  long row = 0;
  SittingReading reading = SittingReading::dry;
  bool flagged = false;  ///< does not fit: left out of the adjustment
  bool one_of_several =
      false;                ///< flagged, but it may be another number of this piece that is wrong; all are held loosely
  double redundancy = 0.0;  ///< 0: no other number checks it, 1: it is known without it
  double w = 0.0;           ///< Baarda's test: standardised residual, |w| above 3.29 once in 1000
  double off = 0.0;         ///< estimated error of the number, g (g/cm3 of a known density)
};

struct SharedEstimate {
  double value = 0.0, standard_uncertainty = 0.0, prior_u = 0.0;
};

/// A row that weighs a piece for which another row stands.
struct Repeat {
  long row = 0;
  long standing = 0;  ///< the row that stands for the piece; it may come later
};

/// What a sitting has found out.
struct SittingResult {
  SittingBench bench;
  std::array<SharedEstimate, shared_error_count> shared;
  SharedMatrix covariance = SharedMatrix::Zero();
  double dark_u_g = 0.0;      ///< what readings in the liquid err besides all that was said, if that is no chance
  double box_variance = 0.0;  ///< linearity, evaporation and drift of a reading in the liquid, g2
  long first_row = 0, last_row = 0;
  long rows = 0;                         ///< all rows seen
  long informative_rows = 0;             ///< of known density or mass, weighed again, or with the cup's resting reading
  long rows_of_other_benches = 0;        ///< left as they are
  std::vector<CheckedReading> readings;  ///< of the informative rows, row by row
  std::vector<CheckedReading> flagged;   ///< those of them that do not fit, by rising row
  std::vector<long> uncheckable;         ///< informative rows none of whose readings has a redundancy of 0.3
  bool converged = true;                 ///< false: the least squares did not come to rest, and its figures may be off
  std::vector<Repeat> repeats;           ///< by rising row; on any bench, whether they inform or not
  std::vector<long> unlike;  ///< rising rows whose dry weights differ too much from others of that name; no repeats
};

/// The row that stands for the piece of this one: mostly the row itself. Of several it is the first that says what is
/// known of the piece, else the first none of whose own numbers (dry, in the liquid, at rest) is flagged, else the
/// first of which it is not certain that one is wrong (CheckedReading::one_of_several), else the first.
long standing_row_of(const SittingResult& result, long row);

struct ObservedPiece;

/// First pass over a sitting's rows, in the order of weighing. Keeps about 130 bytes for each row that has a name or is
/// known, nothing for the others; the adjustment takes 1 kB for each that does. Names are kept as 64-bit numbers: in
/// ten million rows two unlike names are taken for one with a chance of 3 in a million.
class SittingBuilder
{
 public:
  explicit SittingBuilder(SittingPriors priors = {}) : priors_(priors) {}
  /// Rows in rising order. A piece of count > 1 is one piece here. @throws Error as check(weighing), bad_option for a
  /// known mass that is not above 0.
  void add(long row, const Piece& piece);
  /// Adjusts the bench with most informative rows. Least squares with Cauchy loss over the informative rows; unknowns:
  /// the shared errors with their priors, and mass and volume of each piece, which are eliminated, so that time and
  /// memory grow with the informative rows. Readings are tested one by one (data snooping, Baarda 1968, critical value
  /// 3.29); what fails is left out and the rest adjusted again.
  /// @param threads  to work on them, 0 for one a processor; the result is the same
  [[nodiscard]] SittingResult adjust(int threads = 1) const;

 private:
  // One row, brought to what the adjustment needs.
  struct Kept {
    std::uint64_t name = 0;  // 0: none
    long row = 0;
    double dry_g = 0.0, in_liquid_g = 0.0, resting_g = 0.0;  // known errors taken off; resting 0: none
    double known_g_cm3 = 0.0, known_g = 0.0;                 // 0: not known
    double liquid_g_cm3 = 0.0;
    float dry_u = 0.0F, in_liquid_u = 0.0F, resting_u = 0.0F;  // without the bench's box
    float known_u_g_cm3 = 0.0F, known_u_g = 0.0F;
    float air_g_cm3 = 0.0F;
    int bench = 0;
    [[nodiscard]] bool known() const { return known_g_cm3 > 0.0 || known_g > 0.0 || resting_g != 0.0; }
  };
  // One row with a name.
  struct Named {
    std::uint64_t name = 0;
    long row = 0;
    float dry_g = 0.0F, dry_u = 0.0F;
    bool known = false;  // of known density or mass
  };
  struct OfBench {
    long rows = 0;
    double liquid_variance = 0.0;  // of what each weighing knows of the liquid, summed
  };
  int bench_of(const Weighing& weighing);
  [[nodiscard]] std::vector<Repeat> repeats(const std::vector<CheckedReading>& flagged) const;
  using Rows = std::vector<const Kept*>;  // of one piece
  static ObservedPiece observed_piece(const Rows& rows, const SittingResult& result);
  static std::vector<Rows> informative_pieces(Rows rows, std::vector<long>& unlike);

  SittingPriors priors_;
  std::vector<SittingBench> benches_;
  std::map<SittingBench, int> number_of_bench_;  // among these
  std::vector<OfBench> of_bench_;
  std::vector<Kept> kept_;
  std::vector<Named> named_;
  long first_row_ = 0, last_row_ = 0, rows_ = 0;
};

/// The weighing as the sitting sees it, for density_curve_of and all that follows: liquid density and reading in the
/// liquid shifted, the shared part of its errors replaced by what the sitting leaves of it. Unchanged if it is of
/// another bench or if nothing was learnt. Readings stay as typed.
Weighing corrected(const SittingResult& result, const Weighing& weighing, long row);

/// How density (g/cm3), mass (g), displaced weight (g) and volume (cm3) of a piece move with the shared errors. Two
/// pieces have the covariance j_a' S j_b, S being the result's; the total of a jar needs only the sum of j.
struct SharedSensitivity {
  SharedVector density = SharedVector::Zero(), mass = SharedVector::Zero(), displaced = SharedVector::Zero(),
               volume = SharedVector::Zero();
};
/// Closed form, from mean readings. Zero for a weighing of another bench or with nothing displaced.
SharedSensitivity sensitivity_of(const SittingResult& result, const Weighing& weighing, long row);
/// Standard uncertainty that the shared errors give a sum whose sensitivities add up to j.
double shared_u(const SittingResult& result, const SharedVector& j);

/// What is to be told of a sitting, in sentences, most urgent first: readings that do not fit, rows that nothing
/// checks, the shared errors, and that pieces weighed once teach nothing.
std::vector<std::string> remarks_of(const SittingResult& result);
/// What of it is about one row, in sentences: numbers of it that do not fit, a name that is another piece's, and why
/// its density is in more doubt than its readings say. @param weighing  of the row, as typed or corrected
std::vector<std::string> remarks_on_row(const SittingResult& result, long row, const Weighing& weighing);

}  // namespace bilancetta
