#pragma once

#include <random>
#include <vector>

#include "mix_lesson.hpp"
#include "mix_nodes.hpp"

namespace bilancetta
{

/// One chain of Gibbs samples of a jar's mix: what its kinds are, their shares, and which of them each teacher is.
class MixChain
{
 public:
  MixChain(const MixNodes& nodes, unsigned seed);
  /// What its states teach.
  MixLesson run();

 private:
  double uniform();
  double gamma(double shape);
  std::size_t pick(const std::vector<double>& odds);
  void become(std::size_t kind, std::size_t node);
  void add_up();
  void draw_concentration();
  void draw_shares();
  void replace(std::size_t kind);
  void share_anew(std::size_t one, std::size_t other);
  void assign();
  void sweep();

  const MixNodes& nodes_;
  std::vector<std::size_t> node_;  // of each kind
  MixState state_;
  std::vector<double> share_;                    // of each kind
  std::vector<std::vector<double>> likelihood_;  // of each kind, of each teacher
  std::vector<double> mixed_;                    // likelihood of each teacher given shares and nodes
  std::vector<double> odds_;
  std::vector<MixNodes::Factor> factors_;
  std::mt19937_64 random_;
};

}  // namespace bilancetta
