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

/// Inverse of the standard normal distribution: Acklam's rational approximation (relative error 1.2e-9).
/// @param p  between 0 and 1
double inverse_normal(double p);

/// Vectors in a bank.
inline constexpr int banked = 5600;
inline constexpr int banked_for_open_mix = 8192;
/// The bank for so many variables of a kind, made when first asked for.
const NormalBank& bank_for(Kind kind, int variables);

}  // namespace bilancetta
