#pragma once

#include <vector>

#include "bilancetta/learned_mix.hpp"

namespace bilancetta
{

/// Samples states of one place's mix: what the kinds are, and which of them each teacher is.
class MixSampler
{
 public:
  MixSampler(const LearnedMix& mix, LearnedMix::PlaceMix& place);
  void run();

 private:
  double uniform();
  std::size_t pick(const std::vector<double>& odds);
  std::size_t pick_by_ln(std::vector<double> odds);
  void start();
  void assign();
  void draw_concentration();
  void draw_shares();
  void replace(std::size_t kind);
  void keep();
  void sweep(bool kept);

  LearnedMix::PlaceMix& place_;
  std::vector<double> centre_;                  // of each node, how likely a kind is it
  std::vector<std::vector<float>> likelihood_;  // of each teacher, given each node
  std::vector<int> node_, count_;               // of each kind
  std::vector<double> share_;                   // of each kind
  std::vector<std::int16_t> kind_of_;           // of each teacher
  double concentration_ = 1.0;
  std::mt19937_64 random_;
};

}  // namespace bilancetta
