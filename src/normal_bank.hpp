#pragma once

#include <cstddef>
#include <vector>

#include "bilancetta/hypothesis.hpp"

namespace bilancetta
{

/// Quasi-random standard normal vectors, the same for all hypotheses with as many variables: an additive recurrence on
/// the generalised golden ratio (Kronecker sequence; M. Roberts 2018), through the inverse normal.
class NormalBank
{
 public:
  NormalBank(int draws, int dimensions);
  [[nodiscard]] int draws() const { return draws_; }
  [[nodiscard]] const double* at(int draw) const { return &values_[static_cast<std::size_t>(draw) * dimensions_]; }

 private:
  int draws_, dimensions_;
  std::vector<double> values_;
};

/// Lines that fill the space of many variables.
inline constexpr int most_lines = 2800;
/// The bank for its number of variables.
const NormalBank& bank_for(const Hypothesis& hypothesis);

}  // namespace bilancetta
