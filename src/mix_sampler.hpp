#pragma once

#include <vector>

#include "bilancetta/learned_mix.hpp"

namespace bilancetta
{

/// Samples states of one place's mix: which hypothesis each teacher is, and the concentrations.
class MixSampler
{
 public:
  MixSampler(const LearnedMix& mix, LearnedMix::PlaceMix& place);
  void run();

 private:
  struct Option {
    int hypothesis, family;
    float odds;  // prior x likelihood
  };
  [[nodiscard]] double ln_level(int level, double weight) const;
  double uniform();
  template <typename Odds>
  std::size_t pick(const Odds& odds);
  void count(int hypothesis, double by);
  void gains_of_build(int build);
  void gain_of_row(int hypothesis);
  void all_gains();
  void choose_each();
  void rename_each();
  void rename(int material, const std::vector<int>& teachers);
  void draw_weights();

  const LearnedMix& mix_;
  LearnedMix::PlaceMix& place_;
  std::vector<std::vector<Option>> options_;       // of each teacher
  std::vector<std::vector<float>> ln_likelihood_;  // of each teacher, all hypotheses
  LearnedMix::State state_;
  std::vector<int> chosen_;
  // A hypothesis gains row x family over its prior, up to what is common to all; the family's has the build's in it.
  std::vector<float> row_gain_, family_gain_;
  std::array<std::vector<int>, 4> families_of_;
  std::mt19937_64 random_;
};

}  // namespace bilancetta
