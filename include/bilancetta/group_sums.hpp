#pragma once

#include <array>
#include <cstdint>
#include <utility>
#include <vector>

#include "bilancetta/lot.hpp"
#include "bilancetta/share_table.hpp"

namespace bilancetta
{

/// One explanation of a row, and what it says of the metals if it holds: mass fraction of the whole, mean and sd.
struct JarExplanation {
  int hypothesis = -1;
  double probability = 0.0;
  double prior = 1.0, evidence = 1.0, test_likelihood = 1.0;  ///< needed of rows with a lot
  std::array<ShareMoments, 4> share{};
};

/// Sums over rows for one explanation.
struct ExplanationSums {
  double probability_g = 0.0;  ///< of a lot, up to a factor that all its explanations have
  double listed_g = 0.0;       ///< of the rows that list it
  std::array<double, 4> mean_g{}, sd_g{};
};
/// By rising hypothesis.
using RisingSums = std::vector<std::pair<int, ExplanationSums>>;

/// Of the rows of a kind.
class KindSums
{
 public:
  void add(double mass_g, const JarExplanation& explanation);
  void join(const KindSums& other);
  [[nodiscard]] RisingSums sums() const;

 private:
  ExplanationSums& operator[](int hypothesis);

  std::vector<std::int16_t> place_;  // of each hypothesis among the sums; -1: not there yet
  RisingSums sums_;                  // as they came
};

/// What rows that are the same material say together. The probability of a hypothesis is the mean prior times the
/// evidences, which count for effective_readings(rows), times the mean of the answers, means being those of the
/// logarithm. One that a row does not list counts there as the smallest value listed, which favours it if anything.
///
/// A jar may have as many lots as rows, so that only what differs from nothing is kept: some 40 bytes a hypothesis.
class LotSums
{
 public:
  /// @param tested  whether answers were given
  void add(double mass_g, const std::vector<JarExplanation>& explanations, bool tested);
  [[nodiscard]] RisingSums sums() const;

 private:
  // Of a metal other than silver, where a hypothesis holds any.
  struct Other {
    int hypothesis, metal;
    double mean_g, sd_g;
  };
  void make_room_for(const std::vector<const JarExplanation*>& rising);
  void add_other(int hypothesis, int metal, double mean_g, double sd_g);

  long rows_ = 0, tested_rows_ = 0;
  double mass_g_ = 0.0;
  std::vector<int> hypotheses_;  // rising
  // For each of them: logarithms over the smallest of each row, summed; answers none before a row is tested.
  std::vector<double> prior_, evidence_, answers_;
  std::vector<double> listed_g_;  // none while every row lists every one
  std::vector<double> silver_g_, silver_sd_g_;
  std::vector<Other> others_;  // rising
};

}  // namespace bilancetta
