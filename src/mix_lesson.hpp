#pragma once

#include <vector>

#include "mix_nodes.hpp"

namespace bilancetta
{

/// Which kind each teacher is, of how many each kind is, how many pieces a kind counts for beforehand, and of one piece
/// how much a teacher does.
struct MixState {
  std::vector<std::size_t> kind_of;
  std::vector<int> count;
  double each = 0.0;
  double weight = 1.0;
  [[nodiscard]] double pieces_of(std::size_t kind) const { return weight * count[kind] + each; }
};

/// What states of a mix make of each node, summed over states: share of it in the mix, and the same without each
/// teacher, over how likely that makes the teacher's readings. In both, `spread` stands for so much of every node, by
/// its chance.
class MixLesson
{
 public:
  struct Part {
    std::vector<float> node;
    double spread = 0.0;
    void add(const Part& other);
  };

  explicit MixLesson(const MixNodes& nodes);
  /// Adds not the nodes that the kinds of a state are but how likely they are each, given which teachers are of which
  /// kind: that varies less.
  void add(const MixState& state);
  void add(const MixLesson& other);

  [[nodiscard]] const Part& mix() const { return mix_; }
  [[nodiscard]] const Part& without(std::size_t teacher) const { return without_[teacher]; }
  [[nodiscard]] int states() const { return states_; }

 private:
  // A node that a kind may be, and how likely.
  struct Candidate {
    std::size_t node;
    double chance;
  };
  // `hardly`: but for one of the kind's teachers perhaps.
  struct Kind {
    std::vector<Candidate> may_be, hardly;
  };
  [[nodiscard]] std::vector<Kind> kinds_of(const MixState& state) const;
  void add_without(std::size_t teacher, const MixState& state, const std::vector<Kind>& kinds, double unmet);

  const MixNodes* nodes_;
  std::vector<double> expected_;  // likelihood of each teacher, given a node by its chance
  Part mix_;
  std::vector<Part> without_;
  int states_ = 0;
};

}  // namespace bilancetta
