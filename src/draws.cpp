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

namespace
{

Four even_steps(double start, double step)
{
  return static_cast<float>(start) + static_cast<float>(step) * Four(0.0F, 1.0F, 2.0F, 3.0F);
}

}  // namespace

Outcome<Four> Draws::outcomes(int first)
{
  const int line = first / set_->nodes;
  go_to(line);
  return along_line(even_steps(set_->starts[line] + set_->step * (first - line * set_->nodes), set_->step));
}

Outcome<Four> Draws::outcomes_at(int line, const Four& steps)
{
  go_to(line);
  return along_line(static_cast<float>(set_->starts[line]) + static_cast<float>(set_->step) * steps);
}

Outcome<Four> Draws::quarters(int draw)
{
  const int line = draw / set_->nodes;
  go_to(line);
  return along_line(
      even_steps(set_->starts[line] + set_->step * (draw - line * set_->nodes + 0.25), 0.25 * set_->step));
}

// At four places of the line that `base_` is on.
Outcome<Four> Draws::along_line(const Four& t) const
{
  Four z[max_variables];
  for (int k = 0; k < hypothesis_->variables; ++k) {
    z[k] = static_cast<float>(base_[k]) + t * static_cast<float>(axes_.way()[k]);
  }
  return hypothesis_->evaluate(z);
}

}  // namespace bilancetta
