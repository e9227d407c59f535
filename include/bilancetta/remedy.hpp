#pragma once

#include <string>
#include <vector>

#include "bilancetta/density.hpp"

namespace bilancetta
{

/// Combined standard uncertainty of the budget (first order), g/cm3; 0 if nothing was displaced.
double combined_u(const Weighing& weighing);
/// The same over the density at which the budget is taken; 0 if nothing was displaced.
double relative_u(const Weighing& weighing);

/// What displaces fewer steps of the scale it hardly sees, and a density with a larger relative standard uncertainty is
/// rough (judgement).
inline constexpr double steps_seen = 10.0;
inline constexpr double rough_from = 0.05;
inline bool is_rough(const DensitySummary& density)
{
  return !density.bounded || density.standard_uncertainty > rough_from * density.value;
}
/// Like pieces to pool so that the displacement shows at least 20 steps of the scale; 1 if it does.
int pieces_to_pool(const DensitySummary& density, const Weighing& weighing);

/// How far apart repeats lie by chance (judgement).
double explained_spread_g(const Scale& scale);
/// Whether repeats lie further apart than that: another piece among them, a slip of the pen, a worse scale than was
/// named.
bool repeats_disagree(const Weighing& weighing);

inline constexpr int pooling_effort = 2;  // judgement, as a bench test's

/// Another weighing of the same piece, or of like pieces, that would be sharper.
struct SharperWeighing {
  std::string key;   ///< "wetting", "pool", "repeats", "one-scale", "finer-scale"
  std::string step;  ///< what to do, a whole sentence
  int effort = 1;    ///< as a bench test's: 1 to 8 (judgement)
  Weighing weighing;
};
/// Bubbles shaken off, with soap in water (if nothing was done against them), like pieces together (as many as are to
/// be pooled where the scale is too coarse, else at least ten and twice as many as now, three times from twenty on),
/// five repeats of each reading (if there are fewer and the way of weighing has repeats), both readings on one scale
/// (if they were made on two) and the next finer scale (if there is one). Readings are those at hand, in proportion.
std::vector<SharperWeighing> sharper_weighings(const Weighing& weighing);

/// What would help this weighing most.
struct Remedy {
  std::string words;  ///< "weigh 12 like pieces together", "use a 0.001 g scale", "boil and soap the piece", ...
  double standard_uncertainty = 0.0;  ///< g/cm3 that it would leave
  bool comes_first = false;           ///< whatever else would leave less
};
/// Weighing again where repeats disagree. Else the remedy that leaves least, of: the sharper weighings above, soap or
/// boiling, a thermometer in the water. `words` is empty if none takes off a fifth.
Remedy best_remedy(const Weighing& weighing);

}  // namespace bilancetta
