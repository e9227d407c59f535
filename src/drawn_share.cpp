#include "bilancetta/drawn_share.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <atomic>
#include <mutex>
#include <utility>

#include "share_grid.hpp"
#include "share_points.hpp"

namespace bilancetta
{

namespace
{

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
  BentSteps::Reader bends(bent);
  for (const LineSet::Filled& line : set->filled) {
    for (int draw = line.first; draw < line.end; ++draw) {
      const float mass = set->weights[draw];
      ShareGrid::Point from{place[draw], share[draw]};
      if (const int step = bends.at(draw); step >= 0) {
        for (int quarter = 0; quarter < 4; ++quarter) {
          const ShareGrid::Point to{bent.places[step][quarter], bent.shares[step][quarter]};
          grid.add(from, to, 0.25F * mass);
          from = to;
        }
      } else {
        grid.add(from, {place[draw + 1], share[draw + 1]}, mass);
      }
    }
  }
  return ShareTable(std::move(grid));
}

}  // namespace

struct DrawnShare::Table {
  std::atomic<bool> made{false};  // asking this is quicker than asking `once`
  std::once_flag once;
  SharePoints points;
  ShareTable table;
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
