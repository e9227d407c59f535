#include "draws.hpp"

#include <algorithm>

namespace bilancetta
{

Draws::Draws(const Hypothesis& hypothesis, bool fine)
    : hypothesis_(&hypothesis), set_(&line_set_for(hypothesis, fine)), axes_(hypothesis)
{
}

void Draws::go_to(int line)
{
  if (line != line_) {
    line_ = line;
    base_ = {};
    std::copy_n(set_->across_of(line), set_->ways, base_.begin() + 1);
    axes_.turn(base_);
  }
}

Outcome<double> Draws::outcome(int draw, double along)
{
  const int line = draw / set_->nodes;
  go_to(line);
  const double t = set_->starts[line] + set_->step * (draw - line * set_->nodes + along);
  double z[max_variables];
  for (int k = 0; k < hypothesis_->variables; ++k) {
    z[k] = base_[k] + t * axes_.way()[k];
  }
  return hypothesis_->evaluate(z);
}

// At eight places of the line that `base_` is on.
BILANCETTA_INLINE Outcome<Lanes> Draws::along_line(const Lanes& steps) const
{
  const Lanes t = set_->starts[line_] + set_->step * steps;
  Lanes z[max_variables];
  for (int k = 0; k < hypothesis_->variables; ++k) {
    z[k] = base_[k] + t * axes_.way()[k];
  }
  return hypothesis_->evaluate(z);
}

BILANCETTA_VECTORISED BILANCETTA_FLAT Outcome<Lanes> Draws::outcomes_at(int line, const Lanes& steps) noexcept
{
  go_to(line);
  return along_line(steps);
}

BILANCETTA_VECTORISED BILANCETTA_FLAT Draws::Seen Draws::seen_at(int line, const Lanes& steps, int constituent) noexcept
{
  go_to(line);
  const Outcome<Lanes> outcomes = along_line(steps);
  const Lanes place = log(outcomes.density * (1.0 / density_grid::highest_g_cm3)) * (1.0 / density_grid::spacing) +
                      (density_grid::nodes - 1.0);
  return {place, constituent >= 0 ? fraction_of(*hypothesis_, outcomes, constituent) : Lanes(0.0)};
}

}  // namespace bilancetta
