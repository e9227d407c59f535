#include "bilancetta/density_grid.hpp"

#include <algorithm>
#include <array>
#include <numeric>

#include "vectorised.hpp"

namespace bilancetta
{

double GridFunction::sum() const
{
  return std::accumulate(value.begin(), value.end(), 0.0);
}

BILANCETTA_VECTORISED double dot(const GridFunction& a, const GridFunction& b)
{
  const int first = std::max(a.first, b.first);
  const int count = std::min(a.last(), b.last()) - first + 1;
  if (count <= 0) {
    return 0.0;
  }
  const float* x = a.value.data() + (first - a.first);
  const float* y = b.value.data() + (first - b.first);
  // Eight partial sums let the compiler vectorise; single precision holds 1e-6 of the sum here.
  std::array<float, 8> part{};
  int i = 0;
  for (; i + 8 <= count; i += 8) {
    for (int k = 0; k < 8; ++k) {
      part[k] += x[i + k] * y[i + k];
    }
  }
  float rest = 0.0F;
  for (; i < count; ++i) {
    rest += x[i] * y[i];
  }
  return ((part[0] + part[4]) + (part[2] + part[6])) + ((part[1] + part[5]) + (part[3] + part[7])) + rest;
}

GridFunction in_eights(const GridFunction& function)
{
  constexpr int eight = 8;
  const int first = function.first / eight * eight;
  const int end = (function.last() / eight + 1) * eight;
  GridFunction padded{first, std::vector<float>(end - first, 0.0F)};
  std::copy(function.value.begin(), function.value.end(), padded.value.begin() + (function.first - first));
  return padded;
}

Pyramid::Pyramid(const GridFunction& density)
{
  level_[0] = in_eights(density);
  GridFunction mass = density;
  for (std::size_t i = 0; i < mass.value.size(); ++i) {
    mass.value[i] *=
        static_cast<float>(density_grid::spacing * density_grid::density_at(mass.first + static_cast<int>(i)));
  }
  for (int level = 1; level < density_grid::levels; ++level) {
    mass = halved(mass);
    level_[level] = in_eights(mass);
  }
}

GridFunction halved(const GridFunction& mass)
{
  GridFunction half;
  half.first = mass.first / 2;
  half.value.assign((mass.last() + 1) / 2 - half.first + 1, 0.0F);
  for (std::size_t i = 0; i < mass.value.size(); ++i) {
    const int node = mass.first + static_cast<int>(i);
    if (node % 2 == 0) {
      half.value[node / 2 - half.first] += mass.value[i];
    } else {
      half.value[node / 2 - half.first] += 0.5F * mass.value[i];
      half.value[node / 2 + 1 - half.first] += 0.5F * mass.value[i];
    }
  }
  return half;
}

}  // namespace bilancetta
