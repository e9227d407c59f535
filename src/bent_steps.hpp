#pragma once

#include <array>
#include <vector>

#include "draws.hpp"

namespace bilancetta
{

/// Steps from a draw to the next within which a line bends too sharply for the draws to tell what lies between: where a
/// constituent runs out, a range has its middle, or a layer or void comes to fill all or nothing of the piece. There
/// the hypothesis is asked itself.
struct BentSteps {
  std::vector<int> draws;  ///< each with mass, rising
  /// At a quarter, half, three quarters and the end of each step: places among the nodes of the grid, and the mass
  /// fraction of the constituent (0 if none was asked for).
  using Quarters = std::array<float, 4>;
  std::vector<Quarters> places, shares;

  /// Finds them as draws pass by.
  class Reader
  {
   public:
    explicit Reader(const BentSteps& steps) : steps_(&steps) {}
    /// Position of a draw's step among them, or -1. To be asked of rising draws.
    [[nodiscard]] int at(int draw)
    {
      while (next_ < steps_->draws.size() && steps_->draws[next_] < draw) {
        ++next_;
      }
      return next_ < steps_->draws.size() && steps_->draws[next_] == draw ? static_cast<int>(next_) : -1;
    }

   private:
    const BentSteps* steps_;
    std::size_t next_ = 0;
  };
};

/// A step is bent if differences of the fourth order of the places at either end exceed the scatter.
/// @param place  of each of the draws
/// @param constituent  whose shares are wanted, or -1
BentSteps bent_steps_of(Draws& draws, const std::vector<float>& place, int constituent = -1);

}  // namespace bilancetta
