#include <algorithm>
#include <vector>

#include "bilancetta/analysis.hpp"

namespace bilancetta
{

namespace
{

// Members of little weight are read from coarser tables of silver, those of hardly any by their means.
constexpr double little = 0.02;
constexpr double hardly_any = 0.001;

// Nodes where those of more weight that hold silver may be.
NodeRange reach_of_silver(const Analysis& analysis, const std::vector<int>& plausible)
{
  NodeRange reach{density_grid::nodes - 1, 0};
  for (const int i : plausible) {
    if (analysis.posterior[i] >= little && analysis.members->traits(i).holds_silver) {
      const GridFunction& predicted = (*analysis.members)[i]->predicted;
      reach.first = std::min(reach.first, predicted.first);
      reach.last = std::max(reach.last, predicted.last());
    }
  }
  return reach;
}

// What the plausible members' tables of silver are read by: of more weight finely, of little coarsely.
struct SilverCurves {
  bool few;
  LevelWeights fine, coarser;
  SilverCurves(const Analysis& analysis, const std::vector<int>& plausible)
      : few(ShareTable::fits(analysis.weights, 16)),
        fine(ShareTable::weights_of(analysis.curve, analysis.weights, 16,
                                    few ? NodeRange{} : reach_of_silver(analysis, plausible))),
        coarser(few ? LevelWeights{} : ShareTable::weights_of(analysis.curve, analysis.weights, 7))
  {
  }
  [[nodiscard]] const LevelWeights& of(double probability) const
  {
    return probability < little && !few ? coarser : fine;
  }
};

std::vector<ShareMoments> moments_by(const SilverCurves& curves, const Analysis& analysis,
                                     const std::vector<int>& plausible)
{
  std::vector<ShareMoments> each;
  each.reserve(plausible.size());
  for (const int i : plausible) {
    const MemberTraits& traits = analysis.members->traits(i);
    each.push_back(traits.holds_silver ? traits.silver.table().moments(curves.of(analysis.posterior[i]))
                                       : ShareMoments{});
  }
  return each;
}

}  // namespace

std::vector<ShareMoments> silver_moments_of(const Analysis& analysis, const std::vector<int>& plausible)
{
  return moments_by(SilverCurves(analysis, plausible), analysis, plausible);
}

ShareHistogram silver_fraction_of(const Analysis& analysis, const std::vector<int>& plausible,
                                  std::vector<ShareMoments>* each)
{
  const SilverCurves curves(analysis, plausible);
  // Memory is asked in turn for what each step reads of all of them: one after another they would wait for it.
  struct Asked {
    const ShareTable* table;
    const LevelWeights* curve;
    double probability;
  };
  std::vector<Asked> asked;
  asked.reserve(plausible.size());
  const double with_silver = analysis.members->with_silver(analysis.posterior);
  double left_out = with_silver;
  for (const int i : plausible) {
    const double p = analysis.posterior[i];
    if (analysis.members->traits(i).holds_silver) {
      asked.push_back({&analysis.members->traits(i).silver.table(), &curves.of(p), p});
      left_out -= p;
    }
  }
  for (const Asked& one : asked) {
    one.table->fetch(*one.curve, one.probability >= hardly_any);
  }
  ShareTable::Bins bins{};
  for (const Asked& one : asked) {
    if (one.probability < hardly_any) {
      one.table->add_means_to(bins, *one.curve, one.probability);
    } else {
      one.table->add_to(bins, *one.curve, one.probability);
    }
  }
  if (each != nullptr) {
    *each = moments_by(curves, analysis, plausible);
  }
  // What is left out of those with silver may hold hardly any or be all silver: the band is to hold it either way.
  ShareHistogram all(ShareTable::bins);
  all.add(0.0, 1.0 - with_silver + std::max(left_out, 0.0));
  all.add(1.0, std::max(left_out, 0.0));
  for (int bin = 0; bin < ShareTable::bins; ++bin) {
    all.add_to_bin(bin, bins[bin]);
  }
  return all;
}

}  // namespace bilancetta
