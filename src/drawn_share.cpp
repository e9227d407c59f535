#include "bilancetta/drawn_share.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <atomic>
#include <mutex>
#include <utility>

#include "share_grid.hpp"
#include "share_points.hpp"

namespace bilancetta
{

namespace
{

// One step in four.
void add_bent(const SharePoints& points, std::size_t which, ShareGrid& grid)
{
  const int draw = points.bent.draws[which];
  std::array<float, 5> place{points.place[draw]};
  std::array<float, 5> share{points.share[draw]};
  std::array<float, 4> mass{};
  std::copy_n(points.bent.places[which].begin(), 4, place.begin() + 1);
  std::copy_n(points.bent.shares[which].begin(), 4, share.begin() + 1);
  mass.fill(0.25F * points.set->weights[draw]);
  grid.add(place.data(), share.data(), mass.data(), 4);
}

ShareTable share_table_of(const SharePoints& points)
{
  const auto& [set, scatter, place, share, bent] = points;
  using Numbers = Eigen::Map<const Eigen::ArrayXf>;
  const Numbers places(place.data(), static_cast<Eigen::Index>(place.size()));
  const Numbers shares(share.data(), places.size());
  ShareGrid::Point lowest{places.minCoeff(), shares.minCoeff()};
  ShareGrid::Point highest{places.maxCoeff(), shares.maxCoeff()};
  for (std::size_t k = 0; k < bent.draws.size(); ++k) {
    for (int quarter = 0; quarter < 4; ++quarter) {
      const ShareGrid::Point here{bent.places[k][quarter], bent.shares[k][quarter]};
      lowest = {std::min(lowest.place, here.place), std::min(lowest.share, here.share)};
      highest = {std::max(highest.place, here.place), std::max(highest.share, here.share)};
    }
  }
  ShareGrid grid(lowest, highest, scatter, ShareTable::finest, ShareTable::bins);
  std::size_t next = 0;  // of the bent steps
  for (const LineSet::Filled& line : set->filled) {
    int from = line.first;
    for (; next < bent.draws.size() && bent.draws[next] < line.end; ++next) {
      const int draw = bent.draws[next];
      grid.add(&place[from], &share[from], &set->weights[from], draw - from);
      add_bent(points, next, grid);
      from = draw + 1;
    }
    grid.add(&place[from], &share[from], &set->weights[from], line.end - from);
  }
  return ShareTable(std::move(grid));
}

}  // namespace

struct DrawnShare::Table {
  std::atomic<bool> made{false};  // asking this is quicker than asking `once`
  ShareTable table;
  std::once_flag once;
  SharePoints points;
};

DrawnShare::DrawnShare(SharePoints points) : table_(std::make_shared<Table>())
{
  table_->points = std::move(points);
}

const ShareTable& DrawnShare::table() const
{
  static const ShareTable nothing;
  if (!table_) {
    return nothing;
  }
  if (!table_->made.load(std::memory_order_acquire)) {
    std::call_once(table_->once, [&] {
      table_->table = share_table_of(table_->points);
      table_->points = {};  // only now: without memory for the table the next one who asks tries again
      table_->made.store(true, std::memory_order_release);
    });
  }
  return table_->table;
}

}  // namespace bilancetta
