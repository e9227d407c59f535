#include "bilancetta/density_grid.hpp"

#include <algorithm>
#include <numeric>

namespace bilancetta
{

double GridFunction::sum() const
{
  return std::accumulate(value.begin(), value.end(), 0.0);
}

double dot(const GridFunction& a, const GridFunction& b)
{
  const int first = std::max(a.first, b.first);
  const int count = std::min(a.last(), b.last()) - first + 1;
  if (count <= 0) {
    return 0.0;
  }
  const float* x = a.value.data() + (first - a.first);
  const float* y = b.value.data() + (first - b.first);
  // Four partial sums let the compiler vectorise; single precision holds 1e-6 of the sum here.
  float part[4] = {0, 0, 0, 0};
  int i = 0;
  for (; i + 4 <= count; i += 4) {
    for (int k = 0; k < 4; ++k) {
      part[k] += x[i + k] * y[i + k];
    }
  }
  double total = static_cast<double>(part[0]) + part[1] + part[2] + part[3];
  for (; i < count; ++i) {
    total += static_cast<double>(x[i]) * y[i];
  }
  return total;
}

}  // namespace bilancetta
