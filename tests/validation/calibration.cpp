// Are probabilities what they say? Pieces are drawn from the model's own prior, weighed on simulated scales and put
// through the same inference as a batch row (simulation-based calibration, Talts et al. 2018, arXiv:1804.06788).
//
// usage: calibration [PIECES]      prints a section of docs/validation.md; exit 1 below the bars

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <map>
#include <vector>

#include "simulated.hpp"

using namespace bilancetta;
using namespace simulated;

namespace
{

struct Bin {
  double stated = 0.0, happened = 0.0, pieces = 0.0;
};

// Reliability by tenths of the stated probability, and the expected calibration error.
class Reliability
{
 public:
  void add(double stated, bool happened)
  {
    Bin& bin = bins_[std::min(9, static_cast<int>(10.0 * stated))];
    bin.stated += stated;
    bin.happened += happened ? 1.0 : 0.0;
    bin.pieces += 1.0;
  }
  [[nodiscard]] double expected_error() const
  {
    double total = 0.0;
    double pieces = 0.0;
    for (const Bin& bin : bins_) {
      total += std::abs(bin.stated - bin.happened);
      pieces += bin.pieces;
    }
    return total / pieces;
  }
  void print(const char* what) const
  {
    fmt::print("\n{}: expected calibration error {:.4f}\n\n| stated | happened | pieces |\n|---|---|---|\n", what,
               expected_error());
    for (const Bin& bin : bins_) {
      if (bin.pieces > 0) {
        fmt::print("| {:.3f} | {:.3f} | {:.0f} |\n", bin.stated / bin.pieces, bin.happened / bin.pieces, bin.pieces);
      }
    }
  }

 private:
  Bin bins_[10];
};

struct Tally {
  Reliability builds, best, none;
  int pieces = 0, density_held = 0, silver_held = 0, with_silver = 0, with_silver_held = 0;
};

void try_piece(const Prepared& prepared, const Background& background, const Scale& scale, double dry, Tally& tally)
{
  // Coats are tabulated by size: the piece is drawn at the size of its table, as inference will read it.
  const auto& members = prepared.members(dry / 9.0);
  const Truth truth = drawn_truth(members, background.prior, find_constituent(prepared.tables(), "Ag"));
  if (truth.density < 1.0 || truth.density > 22.0) {
    return;
  }
  const Weighing w = weighed(scale, dry, truth.density);
  Analysis a = weigh_up(w, 0.95);
  hold_against(a, members, background, false);
  ++tally.pieces;
  tally.density_held += a.density.low <= truth.density && truth.density <= a.density.high ? 1 : 0;
  const auto build = static_cast<std::size_t>(members[truth.member]->hypothesis.build);
  for (std::size_t b = 0; b < a.builds.size(); ++b) {
    tally.builds.add(a.builds[b], b == build);
  }
  const std::vector<int> plausible = plausible_members(a);
  if (plausible.empty()) {
    return;
  }
  const auto best = static_cast<std::size_t>(plausible.front());
  tally.best.add(a.posterior[best], best == truth.member);
  const ShareHistogram silver = silver_fraction_of(a, plausible);
  const Band band = silver.band(0.95);
  double none = 0.0;
  for (std::size_t i = 0; i < members.size(); ++i) {
    none += members[i]->silver.empty() ? a.posterior[i] : 0.0;
  }
  tally.none.add(none, truth.silver <= 0.0);
  // The histogram's bins are at most 0.008 wide.
  const bool held = band.low - 0.004 <= truth.silver && truth.silver <= band.high + 0.004;
  tally.silver_held += held ? 1 : 0;
  tally.with_silver += truth.silver > 0.0 ? 1 : 0;
  tally.with_silver_held += truth.silver > 0.0 && held ? 1 : 0;
}

}  // namespace

int main(int argc, char** argv)
{
  const int pieces = argc > 1 ? std::atoi(argv[1]) : 20000;
  const Prepared prepared(built_in_tables());
  const auto& members = prepared.members(0.1);
  Tally tally;
  for (const char* place : {"unknown", "breaker", "relay", "tableware"}) {
    Context context;
    context.place = place;
    context.form = "unsure";
    const Background background = background_of(prepared, members, context);
    for (int i = 0; i < pieces / 4; ++i) {
      const Scale scale = scale_of(i % 2 == 0 ? ScaleClass::pocket : ScaleClass::jeweller);
      try_piece(prepared, background, scale, std::exp(uniform(std::log(0.3), std::log(20.0))), tally);
    }
  }
  const double all = tally.pieces;
  fmt::print("{} pieces at four places, pocket and jeweller's scales, 0.3 to 20 g, weighed once.\n\n", tally.pieces);
  fmt::print(
      "95 % band of the density holds {:.1f} %, of the silver fraction {:.1f} % ({:.1f} % of pieces that hold "
      "silver).\n",
      100 * tally.density_held / all, 100 * tally.silver_held / all,
      100.0 * tally.with_silver_held / tally.with_silver);
  tally.builds.print("Builds (solid, plated, inlay, other)");
  tally.best.print("The first candidate");
  tally.none.print("No silver at all");
  const bool good = tally.builds.expected_error() <= 0.02 && tally.best.expected_error() <= 0.02 &&
                    tally.none.expected_error() <= 0.02 && tally.silver_held >= 0.94 * all;
  return good ? 0 : 1;
}
