#pragma once

#include <memory>

#include "bilancetta/share_table.hpp"

namespace bilancetta
{

struct SharePoints;

/// How a constituent's mass fraction is distributed given the density of pieces made by one hypothesis: a ShareTable of
/// its draws, made when it is first asked for, since a jar makes few hypotheses plausible.
class DrawnShare
{
 public:
  /// Of nothing: its table is empty.
  DrawnShare() = default;
  /// @param points  of all draws (src/share_points.hpp); given up once the table is made
  explicit DrawnShare(SharePoints points);
  /// The table, which copies have in common; may be asked for by any thread.
  [[nodiscard]] const ShareTable& table() const;

 private:
  struct Table;
  std::shared_ptr<Table> table_;
};

}  // namespace bilancetta
