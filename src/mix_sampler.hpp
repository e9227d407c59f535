#pragma once

#include "bilancetta/learned_mix.hpp"
#include "mix_chain.hpp"

namespace bilancetta
{

/// Learns one place's mix from its teachers, by several chains.
class MixSampler
{
 public:
  MixSampler(const LearnedMix& mix, LearnedMix::PlaceMix& place);
  /// Sets the factors of the place and of its teachers. @param threads  as for thread_count; the result is the same
  void run(int threads, unsigned seed);

 private:
  [[nodiscard]] MixNodes nodes_of_place() const;
  [[nodiscard]] std::vector<float> factors_of(const MixLesson::Part& part, int states) const;

  const LearnedMix& mix_;
  LearnedMix::PlaceMix& place_;
  std::vector<double> chance_;  // of each node, that a kind is it
};

}  // namespace bilancetta
