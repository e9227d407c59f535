#include "bilancetta/jar.hpp"

#include <algorithm>
#include <cmath>

#include "doubt.hpp"
#include "jar_total.hpp"

namespace bilancetta
{

namespace
{

constexpr double bin_width = 0.02;         // of ln(density)
constexpr double size_step = 1.386294361;  // ln 4, as the size classes of coats

}  // namespace

void Jar::Group::add(const JarRow& row)
{
  mass_g += row.mass_g;
  mass_squared += row.mass_g * row.mass_g;
  mass_variance += row.mass_u_g * row.mass_u_g - row.mass_linearity_u_g * row.mass_linearity_u_g;
  mass_linearity_u_g += row.mass_linearity_u_g;
  density_g += row.mass_g * row.density;
  density_u_g += row.mass_g * row.density_u;
  ++rows;
  pieces += row.count;
}

void Jar::Group::join(const Group& other)
{
  mass_g += other.mass_g;
  mass_squared += other.mass_squared;
  mass_variance += other.mass_variance;
  mass_linearity_u_g += other.mass_linearity_u_g;
  density_g += other.density_g;
  density_u_g += other.density_u_g;
  rows += other.rows;
  pieces += other.pieces;
}

void Jar::Kind::join(const Kind& other)
{
  Group::join(other);
  for (const auto& [pile, there] : other.piles) {
    piles[pile].mass_g += there.mass_g;
    piles[pile].sums.join(there.sums);
  }
}

KindSums Jar::Kind::sums() const
{
  KindSums all;
  for (const auto& [pile, there] : piles) {
    all.join(there.sums);
  }
  return all;
}

void Jar::add_to_group(const JarRow& row)
{
  if (!row.lot.empty()) {
    Lot& lot = lots_[row.lot];
    lot.add(row);
    lot.pile_g[row.pile] += row.mass_g;
    lot.sums.add(row.mass_g, row.explanations, row.tested);
    lot.apart.add(row.density, row.density_u);
    return;
  }
  const auto size = std::lround(std::log(std::max(row.volume_each_cm3, 1e-6)) / size_step);
  const auto bin = std::lround(std::log(std::max(row.density, 0.1)) / bin_width);
  Kind& kind = kinds_[row.context + '\n' + std::to_string(size)][static_cast<int>(bin)];
  kind.add(row);
  OnPile& pile = kind.piles[row.pile];
  pile.mass_g += row.mass_g;
  for (const JarExplanation& e : row.explanations) {
    pile.sums.add(row.mass_g, e);
  }
}

// Whatever the order of the rows: the chromate drop, which is the worst, before any other.
void Jar::Asked::add(const JarRow& row)
{
  pieces += row.count;
  effort = row.next_effort;
  cautions |= row.cautions;
  if (reagent.empty() || row.reagent == "chromate") {
    reagent = row.reagent;
  } else if (reagent != "chromate" && reagent != row.reagent) {
    reagent = "other";
  }
}

void Jar::add(const JarRow& row)
{
  ++so_far_.rows;
  if (row.known || row.repeat) {
    ++(row.known ? so_far_.known_rows : so_far_.repeat_rows);
    so_far_.known_unfit_rows += row.known_unfit ? 1 : 0;
    return;
  }
  so_far_.of_place |= row.of_place;
  for (std::uint32_t bits = row.cautions, k = 0; bits != 0; bits >>= 1U, ++k) {
    if ((bits & 1U) != 0) {
      so_far_.cautions[static_cast<int>(k)][row.explanations.empty() || row.hollow ? "" : row.pile] += row.count;
    }
  }
  if (row.bounds) {
    ++so_far_.mixed_rows;
    so_far_.mixed_pieces += row.count;
    so_far_.mixed_g += row.mass_g;
    for (std::size_t m = 0; m < precious_metals.size(); ++m) {
      so_far_.mixed_bounds_g[m].first += row.mass_g * (*row.bounds)[m].first;
      so_far_.mixed_bounds_g[m].second += row.mass_g * (*row.bounds)[m].second;
    }
    return;
  }
  so_far_.pieces += row.count;
  so_far_.mass_g += row.mass_g;
  so_far_.last_row_g = row.mass_g;
  if (row.explanations.empty()) {
    so_far_.unfitting += row.count;
    so_far_.unfitting_g += row.mass_g;
    return;
  }
  if (row.hollow) {
    so_far_.hollow += row.count;
    so_far_.hollow_g += row.mass_g;
    return;
  }
  so_far_.unexplained += row.explained ? 0 : row.count;
  so_far_.unexplained_g += row.explained ? 0.0 : row.mass_g;
  auto& [pieces, mass_g] = piles_[row.pile];
  pieces += row.count;
  mass_g += row.mass_g;
  if (row.pile == "undecided") {
    so_far_.undecided += row.count;
    if (!row.next.empty()) {
      next_[row.next].add(row);
    }
  }
  if (row.sensitivity.size() > 0) {
    if (sensitivity_.size() == 0) {
      sensitivity_ = Eigen::VectorXd::Zero(row.sensitivity.size());
    }
    sensitivity_ += row.sensitivity;
  }
  so_far_.kind_rows += row.lot.empty() ? 1 : 0;
  add_to_group(row);
}

// Neighbouring bins of density join while they overlap.
std::vector<Jar::Kind> Jar::joined_kinds() const
{
  std::vector<Kind> kinds;
  for (const auto& [context, bins] : kinds_) {
    const std::size_t first = kinds.size();
    for (const auto& [bin, kind] : bins) {
      const auto density = [](const Group& g) { return g.density_g / g.mass_g; };
      const auto u = [](const Group& g) { return g.density_u_g / g.mass_g; };
      if (kinds.size() > first && density(kind) - density(kinds.back()) <
                                      std::max(2.0 * std::hypot(u(kind), u(kinds.back())), bin_width * density(kind))) {
        kinds.back().join(kind);
      } else {
        kinds.push_back(kind);
      }
    }
  }
  return kinds;
}

// As a piece's own next test is, by what it is worth for its effort: pieces here. Of equal ones the easier.
void Jar::choose_next(JarSummary& summary) const
{
  double best = 0.0;
  int least_effort = 0;
  for (const auto& [key, asked] : next_) {
    const double value = value_for_effort(static_cast<double>(asked.pieces), asked.effort);
    if (value > best || (value == best && asked.effort < least_effort)) {
      best = value;
      least_effort = asked.effort;
      summary.next = key;
      summary.next_pieces = asked.pieces;
      summary.next_reagent = asked.reagent;
      summary.next_cautions = asked.cautions;
    }
  }
}

JarSummary Jar::summary(const JarOptions& options) const
{
  JarSummary summary = so_far_;
  summary.level = options.level;
  const std::vector<Kind> kinds = joined_kinds();
  summary.kinds = static_cast<long>(lots_.size() + kinds.size());
  if (sensitivity_.size() > 0 && options.shared_covariance.rows() == sensitivity_.size()) {
    summary.sitting_u_g = std::sqrt(std::max(0.0, sensitivity_.dot(options.shared_covariance * sensitivity_)));
  }
  for (const auto& [pile, counted] : piles_) {
    summary.piles.push_back({pile, counted.first, counted.second, {}});
  }
  std::sort(summary.piles.begin(), summary.piles.end(),
            [](const auto& a, const auto& b) { return a.mass_g > b.mass_g; });
  choose_next(summary);
  add_totals(lots_, kinds, options, summary);
  return summary;
}

}  // namespace bilancetta
