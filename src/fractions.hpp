#pragma once

#include "bilancetta/verdict.hpp"
#include "lanes.hpp"

namespace bilancetta
{

/// What a piece is worth by its constituents, as a share of what the same weight of the dearest one is worth.
class Worth
{
 public:
  /// Of its histogram: a gram may be worth a small part of what the dearest metal is.
  static constexpr int bins = 16384;
  Worth(const Tables& tables, const Prices& prices);
  [[nodiscard]] bool any() const { return dearest_ > 0.0; }
  /// What a buyer pays for a gram of the dearest constituent.
  [[nodiscard]] double of_dearest() const { return dearest_; }
  /// Whether such a piece holds anything that has a price.
  [[nodiscard]] bool counts(const Hypothesis& hypothesis) const;
  /// Of a gram of the piece, 0 to 1.
  [[nodiscard]] Lanes of_a_gram(const Hypothesis& hypothesis, const Outcome<Lanes>& outcomes) const;

 private:
  struct Priced {
    int constituent;
    double share;  // of the dearest
  };
  std::vector<Priced> priced_;
  double dearest_ = 0.0;
};

/// How the mass fractions of one candidate's own constituents are distributed.
struct CandidateShares {
  int member = -1;
  std::vector<int> constituents;
  std::vector<ShareHistogram> shares;  ///< of each constituent; each sums to 1
  ShareHistogram worth{Worth::bins};   ///< of a gram, as Worth has it, if anything has a price
};

/// Constituents of both parts, each once.
std::vector<int> constituents_of(const Hypothesis& hypothesis);

/// How the mass fraction of each constituent of the tables is distributed, averaged over the plausible hypotheses, and
/// behind them, if anything has a price, what a gram is worth.
/// @param known  of some hypotheses, as add_candidates returned them: these are not drawn again
std::vector<ShareHistogram> fraction_histograms(const Tables& tables, const Analysis& analysis,
                                                const std::vector<int>& plausible,
                                                const std::vector<CandidateShares>& known = {},
                                                const Prices& prices = {});
/// Grams of a constituent of which this band of the mass fraction holds `level`; the uncertainty of the mass widens
/// each side in quadrature, and so there may be a little more than the mass that was read.
Band grams_of(const Mass& mass, const Band& fraction, double level);

/// Fractions, grams of precious metal and their worth, averaged over the plausible hypotheses.
void add_fractions(const Tables& tables, const VerdictOptions& options, const std::vector<int>& plausible,
                   const std::vector<CandidateShares>& known, Verdict& verdict);

}  // namespace bilancetta
