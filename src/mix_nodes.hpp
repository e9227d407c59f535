#pragma once

#include <cstddef>
#include <vector>

namespace bilancetta
{

/// What each teacher says of each node of the tables' tree (see learned_mix.hpp): how likely its readings are if it is
/// of a kind that is this node.
class MixNodes
{
 public:
  /// Readings have blunders: relative to the likeliest, nothing is less likely.
  static constexpr float least_likelihood = 1e-13F;

  /// Nodes side by side: their products stay in registers.
  static constexpr std::size_t together = 32;

  /// @param chance  of each node, that a kind is it
  /// @param weight  what each teacher counts for, above 0 to 1: products hold its likelihood to this power
  MixNodes(std::vector<double> chance, std::size_t teachers, double weight);
  void set(std::size_t teacher, std::size_t node, double likelihood);

  [[nodiscard]] std::size_t size() const { return chance_.size(); }
  [[nodiscard]] std::size_t teachers() const { return teachers_; }
  [[nodiscard]] double weight() const { return weight_; }
  [[nodiscard]] const std::vector<double>& chance() const { return chance_; }
  [[nodiscard]] float likelihood(std::size_t teacher, std::size_t node) const
  {
    return likelihood_[place_of(teacher, node)];
  }
  /// To the power of the teacher's weight.
  [[nodiscard]] float weighed(std::size_t teacher, std::size_t node) const { return weighed_[place_of(teacher, node)]; }
  /// Over a node drawn by its chance.
  [[nodiscard]] double expected_likelihood(std::size_t teacher) const;

  /// One factor of each node's odds: plus + by x likelihood of the teacher.
  struct Factor {
    std::size_t teacher;
    double plus, by;
  };
  /// Odds of each node: its chance times all factors to the power of their weight, over the highest product.
  void find_odds(const std::vector<Factor>& factors, std::vector<double>& odds) const;

 private:
  [[nodiscard]] std::size_t place_of(std::size_t teacher, std::size_t node) const
  {
    return (node / together * teachers_ + teacher) * together + node % together;
  }

  std::vector<double> chance_;
  std::size_t teachers_;
  double weight_;
  std::vector<float> likelihood_, weighed_;
};

}  // namespace bilancetta
