#pragma once

// Each measured row predicted from others: how far the model reaches where no measurement stands.

#include <string>
#include <vector>

#include "departure_fit.hpp"

namespace validation
{

enum class Left { nothing, row, composition, source };
const char* name_of(Left left);

struct LeftOut {
  const AlloyRow* row = nullptr;
  Prediction prediction;
  [[nodiscard]] double off() const { return prediction.density / row->density - 1.0; }
  [[nodiscard]] bool held() const { return row->density >= prediction.low && row->density <= prediction.high; }
};
/// Rows that are fitted; with `beside` also those that stand beside the fit.
std::vector<LeftOut> leave_out(const bilancetta::Tables& tables, const std::vector<AlloyRow>& rows, Left left,
                               bool beside = false);

struct Figures {
  int rows = 0;
  double median = 0.0;         ///< of |off|
  double within = 0.0;         ///< share within 1.5 %
  double held = 0.0;           ///< share in its 95 % band
  double largest = 0.0;        ///< |off|
  int beyond = 0, unsaid = 0;  ///< rows beyond 3 %, and those of them without a note
};
Figures figures_of(const std::vector<LeftOut>& all);

}  // namespace validation
