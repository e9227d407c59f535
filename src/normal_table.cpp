#include "normal_table.hpp"

namespace bilancetta
{

NormalTable::NormalTable()
{
  for (int i = 0; i <= points; ++i) {
    value_[i] = 0.5 * std::erfc(-(lowest + i / per_unit) * M_SQRT1_2);
  }
}

const NormalTable& normal_table()
{
  static const NormalTable table;
  return table;
}

}  // namespace bilancetta
