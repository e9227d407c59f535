#include "bilancetta/sitting.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <numeric>
#include <tuple>

#include "bilancetta/error.hpp"
#include "displacement_errors.hpp"
#include "sitting_adjust.hpp"
#include "sitting_repeats.hpp"
#include "started_threads.hpp"

namespace bilancetta
{

namespace
{

// Standard uncertainty of a known mass, relative: weights of class M1 of OIML R 111-1 are good to 2e-4 at 10 g and to
// 5e-5 from 100 g on (from memory).
constexpr double known_mass_part = 1e-4;
constexpr double least_redundancy = 0.3;  // below it a blunder must be many times the noise to show
constexpr double least_known_u_g_cm3 = 1e-6;

double square(double x)
{
  return x * x;
}

double rounding_and_noise(const Scale& scale, double readings)
{
  return square(scale.readability_g) / 12.0 + square(scale.repeatability_g) / readings;
}

std::uint64_t number_of(const std::string& name)
{
  return name.empty() ? 0 : std::max<std::uint64_t>(std::hash<std::string>()(name), 1);
}

// What a reading in the liquid has of its own: all but the shared box, the liquid's density and a scale's span.
double own_variance(const Weighing& w, const DisplacementErrors& e)
{
  const Readings& r = w.readings;
  const Scale& scale = liquid_scale_of(w);
  const double repeats = std::max<double>(1.0, static_cast<double>(std::max(r.rise_g.size(), r.submerged_g.size())));
  const bool second = r.cup_before_g || r.holder_g || r.bottle_full_g;
  return rounding_and_noise(scale, repeats) + (counts_from_rounded_tare(w) ? square(scale.readability_g) / 12.0 : 0.0) +
         (second ? rounding_and_noise(scale, 1.0) + (square(scale.linearity_g) + square(scale.drift_g)) / 3.0 : 0.0) +
         square(e.thread_half_width_g) / 3.0 + square(e.bubble_mean_g) + square(e.air_u_g) + square(e.solid_u_g) +
         square(e.bottle_u_g) + square(e.span_u_g);
}

void set_priors(const SittingPriors& priors, double liquid_u, SittingResult& result)
{
  const double prior_u[] = {liquid_u, std::sqrt(zero_part * result.box_variance + square(priors.more_zero_u_g)),
                            std::sqrt(drift_part * result.box_variance + square(priors.more_drift_u_g)), priors.gain_u};
  for (int i = 0; i < shared_error_count; ++i) {
    result.shared[i] = {0.0, prior_u[i], prior_u[i]};
    result.covariance(i, i) = square(prior_u[i]);
  }
}

void list_flagged(SittingResult& result)
{
  std::copy_if(result.readings.begin(), result.readings.end(), std::back_inserter(result.flagged),
               [](const CheckedReading& c) { return c.flagged; });
  std::stable_sort(result.flagged.begin(), result.flagged.end(),
                   [](const CheckedReading& a, const CheckedReading& b) { return a.row < b.row; });
}

// The numbers of one weighing stand together, what is known of its piece apart.
void list_uncheckable(SittingResult& result)
{
  const auto own = [](const CheckedReading& c) {
    return c.reading != SittingReading::known_density && c.reading != SittingReading::known_mass;
  };
  for (auto from = result.readings.begin(), to = from; from != result.readings.end(); from = to) {
    to = std::find_if(from, result.readings.end(),
                      [&](const CheckedReading& c) { return c.row != from->row || own(c) != own(*from); });
    if (own(*from) && std::all_of(from, to, [](const CheckedReading& c) { return c.redundancy < least_redundancy; })) {
      result.uncheckable.push_back(from->row);
    }
  }
  std::sort(result.uncheckable.begin(), result.uncheckable.end());
}

// All that rows of one bench have alike.
auto alike_of(Way way, const Scale& scale, const Scale& liquid_scale, bool two_scales, const Surroundings& s)
{
  const auto of = [](const Scale& one) {
    return std::tuple(one.readability_g, one.repeatability_g, one.linearity_g, one.drift_g);
  };
  return std::tuple(way, of(scale), of(liquid_scale), two_scales, s.liquid_density_g_cm3, s.liquid_density_u_g_cm3,
                    s.water_c_u, s.air_free, s.tap_water, s.thread_mm, s.thread_tared, s.cup_mm, s.evaporation_g);
}

auto alike_of(const SittingBench& b)
{
  return alike_of(b.way, b.scale, b.liquid_scale, b.two_scales, b.surroundings);
}

}  // namespace

bool SittingBench::is_that_of(const Weighing& w) const
{
  return alike_of(*this) ==
         alike_of(way_of(w.readings), w.scale, liquid_scale_of(w), w.liquid_scale.has_value(), w.surroundings);
}

bool SittingBench::operator<(const SittingBench& other) const
{
  return alike_of(*this) < alike_of(other);
}

int SittingBuilder::bench_of(const Weighing& w)
{
  const SittingBench bench{way_of(w.readings), w.scale, liquid_scale_of(w), w.liquid_scale.has_value(), w.surroundings};
  const auto [match, is_new] = number_of_bench_.try_emplace(bench, static_cast<int>(benches_.size()));
  if (is_new) {
    benches_.push_back(bench);
    of_bench_.emplace_back();
  }
  return match->second;
}

void SittingBuilder::add(long row, const Piece& piece)
{
  const Weighing& w = piece.weighing;
  check(w);
  if (piece.reference_mass_g && !(*piece.reference_mass_g > 0.0)) {
    throw Error(ErrorCode::bad_option, "a known mass must be above 0 g", {.field = "reference_mass_g"});
  }
  first_row_ = rows_ == 0 ? row : first_row_;
  last_row_ = row;
  ++rows_;
  Kept k;
  k.bench = bench_of(w);
  const LiquidDensity liquid = liquid_density_of(w.surroundings);
  ++of_bench_[k.bench].rows;
  of_bench_[k.bench].liquid_variance += square(liquid.temperature_u_g_cm3) + square(liquid.salts_u_g_cm3);
  k.name = number_of(piece.name);
  k.known_g_cm3 = piece.reference_density_g_cm3.value_or(0.0);
  k.known_u_g_cm3 = static_cast<float>(std::max(piece.reference_u_g_cm3, least_known_u_g_cm3));
  k.known_g = piece.reference_mass_g.value_or(0.0);
  k.known_u_g = static_cast<float>(known_mass_part * k.known_g);
  k.resting_g = w.readings.cup_resting_g.value_or(0.0);
  const Displacement d = displacement_of(w.readings);
  k.dry_u = static_cast<float>(std::sqrt(rounding_and_noise(w.scale, static_cast<double>(w.readings.dry_g.size())) +
                                         (square(w.scale.linearity_g) + square(w.scale.drift_g)) / 3.0));
  if (k.name != 0) {
    named_.push_back({k.name, row, static_cast<float>(d.dry_g), k.dry_u, k.known_g_cm3 > 0.0 || k.known_g > 0.0});
  }
  if (!(d.displaced_g > 0.0) || (k.name == 0 && !k.known())) {
    return;
  }
  const double air = air_density_g_cm3(w.surroundings.air);
  const DisplacementErrors e = displacement_errors_of(w, d, liquid, air);
  const double displaced = d.displaced_g + e.mean_g();
  k.row = row;
  k.dry_g = d.dry_g;
  k.in_liquid_g = way_of(w.readings) == Way::rise ? displaced : d.dry_g - displaced;
  k.liquid_g_cm3 = liquid.g_cm3;
  k.air_g_cm3 = static_cast<float>(air);
  k.in_liquid_u = static_cast<float>(std::sqrt(own_variance(w, e)));
  if (k.resting_g != 0.0) {
    k.resting_g += 0.5 * w.surroundings.evaporation_g;
    k.resting_u = static_cast<float>(std::sqrt(rounding_and_noise(liquid_scale_of(w), 1.0)));
  }
  kept_.push_back(k);
}

// The numbers of one piece; what is known of it beforehand counts once, however often it is weighed.
ObservedPiece SittingBuilder::observed_piece(const Rows& rows, const SittingResult& result)
{
  constexpr double k = conventional_factor;
  using Law = Observation::Law;
  ObservedPiece piece;
  const bool rise = result.bench.way == Way::rise;
  const auto put = [&](const Kept& row, Law law, SittingReading reading, double value, double u) {
    piece.observations.push_back({law, reading, row.row, value, u, sitting_time(result, row.row), row.liquid_g_cm3,
                                  static_cast<double>(row.air_g_cm3)});
  };
  piece.observations.reserve(2 * rows.size());
  for (const Kept* kept : rows) {
    const Kept& row = *kept;
    const double box = result.box_variance * (1.0 - shared_part_at(sitting_time(result, row.row)));
    put(row, Law::dry, SittingReading::dry, row.dry_g, row.dry_u);
    put(row, rise ? Law::rise : Law::hung, SittingReading::in_liquid, row.in_liquid_g,
        std::sqrt(square(row.in_liquid_u) + box));
    if (row.resting_g != 0.0) {
      put(row, Law::resting, SittingReading::resting, row.resting_g, std::sqrt(square(row.resting_u) + box));
    }
  }
  const auto density = std::find_if(rows.begin(), rows.end(), [](const Kept* r) { return r->known_g_cm3 > 0.0; });
  if (density != rows.end()) {
    put(**density, Law::known_density, SittingReading::known_density, (*density)->known_g_cm3,
        (*density)->known_u_g_cm3);
  }
  const auto mass = std::find_if(rows.begin(), rows.end(), [](const Kept* r) { return r->known_g > 0.0; });
  if (mass != rows.end()) {
    put(**mass, Law::known_mass, SittingReading::known_mass, (*mass)->known_g, (*mass)->known_u_g);
  }
  const Kept& first = *rows.front();
  const double displaced = rise ? first.in_liquid_g : first.dry_g - first.in_liquid_g;
  piece.volume_cm3 = k * std::max(displaced, 0.01 * first.dry_g) / (first.liquid_g_cm3 - first.air_g_cm3);
  piece.mass_g = k * first.dry_g + first.air_g_cm3 * piece.volume_cm3;
  return piece;
}

std::vector<SittingBuilder::Rows> SittingBuilder::informative_pieces(Rows rows, std::vector<long>& unlike)
{
  std::stable_sort(rows.begin(), rows.end(), [](const Kept* a, const Kept* b) { return a->name < b->name; });
  std::vector<Rows> pieces;
  std::vector<double> dry;
  for (std::size_t from = 0, to = 0; from < rows.size(); from = to) {
    to = from + 1;
    while (to < rows.size() && rows[to]->name == rows[from]->name && rows[from]->name != 0) {
      ++to;
    }
    dry.clear();
    for (std::size_t i = from; i < to; ++i) {
      dry.push_back(rows[i]->dry_g);
    }
    const double middle = middle_dry_g(dry);
    Rows same;
    for (std::size_t i = from; i < to; ++i) {
      if (may_be_one_piece(rows[i]->dry_g, rows[i]->dry_u, middle)) {
        same.push_back(rows[i]);
        continue;
      }
      unlike.push_back(rows[i]->row);
      if (rows[i]->known()) {
        pieces.push_back({rows[i]});
      }
    }
    if (same.size() > 1 || (same.size() == 1 && same[0]->known())) {
      pieces.push_back(std::move(same));
    }
  }
  return pieces;
}

SittingResult SittingBuilder::adjust(int threads) const
{
  SittingResult result;
  result.rows = rows_;
  result.first_row = first_row_;
  result.last_row = last_row_;
  if (benches_.empty()) {
    return result;
  }
  std::vector<Rows> rows_of_bench(benches_.size());
  for (const Kept& k : kept_) {
    rows_of_bench[k.bench].push_back(&k);
  }
  std::vector<Rows> pieces;
  std::size_t bench = 0;
  for (std::size_t b = 0; b < benches_.size(); ++b) {
    std::vector<long> unlike;
    auto found = informative_pieces(std::move(rows_of_bench[b]), unlike);
    const long informative = std::accumulate(
        found.begin(), found.end(), 0L, [](long n, const Rows& piece) { return n + static_cast<long>(piece.size()); });
    if (b == 0 || informative > result.informative_rows) {
      bench = b;
      pieces = std::move(found);
      result.informative_rows = informative;
      result.unlike = std::move(unlike);
    }
  }
  std::sort(result.unlike.begin(), result.unlike.end());
  result.bench = benches_[bench];
  result.rows_of_other_benches = rows_ - of_bench_[bench].rows;
  const double evaporated = result.bench.way == Way::rise ? 0.5 * result.bench.surroundings.evaporation_g : 0.0;
  const Scale& scale = result.bench.liquid_scale;
  result.box_variance = (square(scale.linearity_g) + square(scale.drift_g) + square(evaporated)) / 3.0;
  set_priors(priors_, std::sqrt(of_bench_[bench].liquid_variance / static_cast<double>(of_bench_[bench].rows)), result);
  std::vector<ObservedPiece> observed(pieces.size());
  for_each_index(pieces.size(), threads, [&](std::size_t i) { observed[i] = observed_piece(pieces[i], result); });
  pieces = {};  // the adjustment needs the room
  adjust_together(std::move(observed), result, threads);
  list_flagged(result);
  list_uncheckable(result);
  result.repeats = repeats(result.flagged);
  return result;
}

}  // namespace bilancetta
