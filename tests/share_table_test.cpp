#include "bilancetta/share_table.hpp"

#include "bilancetta/density_grid.hpp"
#include "limited_memory.hpp"
#include "referee.hpp"
#include "share_grid.hpp"
#include "support.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinAbs;

namespace
{

constexpr double middle_g_cm3 = 10.0;
constexpr double spread = 0.01;  // of ln(density), by what the piece is made of
constexpr double scatter = 0.003;
constexpr double mean_share = 0.5;
constexpr double slope = 0.05;  // of the share, per `spread`

// Of points that rise.
ShareTable table_of(const std::vector<ShareGrid::Point>& points, const std::vector<float>& masses)
{
  ShareGrid grid(points.front(), points.back(), scatter, ShareTable::finest, ShareTable::bins);
  for (std::size_t i = 0; i < points.size(); ++i) {
    const std::array<float, 2> place{points[i].place, points[i].place};
    const std::array<float, 2> share{points[i].share, points[i].share};
    grid.add(place.data(), share.data(), &masses[i], 1);
  }
  return ShareTable(std::move(grid));
}

// Share and ln(density) rise together along a normal variable.
ShareTable normal_table()
{
  std::vector<ShareGrid::Point> points;
  std::vector<float> masses;
  for (int step = -2500; step <= 2500; ++step) {
    const double t = 0.002 * step;
    points.push_back({static_cast<float>(density_grid::position_of(middle_g_cm3) + t * spread / density_grid::spacing),
                      static_cast<float>(mean_share + slope * t)});
    masses.push_back(static_cast<float>(std::exp(-0.5 * t * t)));
  }
  return table_of(points, masses);
}

LevelWeights weights_of(const DensityCurve& curve, int most_nodes)
{
  return ShareTable::weights_of(curve, evidence_weights_of(curve), most_nodes);
}

}  // namespace

// A normal quantity observed with a normal error has a normal posterior, its mean the one weighed by inverse variances
// (Gelman et al., "Bayesian Data Analysis", 3rd ed. 2013, eq. 2.10; from memory).
TEST_CASE("a table of shares gives what a normal posterior gives", "[share_table]")
{
  const ShareTable table = normal_table();
  for (const double u : {0.003, 0.03, 0.1, 0.3}) {
    for (const double off : {-1.5, 0.0, 1.0}) {
      const double read = middle_g_cm3 * std::exp(off * std::hypot(spread, u / middle_g_cm3, scatter));
      CAPTURE(u, off);
      const double error_squared = std::pow(u / read, 2) + scatter * scatter;
      const double gain = spread * spread / (spread * spread + error_squared);
      const double t = gain * std::log(read / middle_g_cm3) / spread;
      const double sd = slope * std::sqrt(1.0 - gain);
      for (const int most_nodes : {20, 12}) {
        const LevelWeights curve = weights_of(referee::gaussian_curve(read, u), most_nodes);
        const ShareMoments moments = table.moments(curve);
        CHECK_THAT(moments.mean, WithinAbs(mean_share + slope * t, 0.002));
        CHECK_THAT(moments.sd, WithinAbs(sd, 0.002));
        ShareTable::Bins bins{};
        table.add_to(bins, curve, 0.75);
        ShareHistogram all(ShareTable::bins);
        double total = 0.0;
        for (int bin = 0; bin < ShareTable::bins; ++bin) {
          all.add_to_bin(bin, bins[bin]);
          total += bins[bin];
        }
        CHECK_THAT(total, WithinAbs(0.75, 1e-5));
        CHECK_THAT(all.quantile(0.5), WithinAbs(mean_share + slope * t, 0.003));
        CHECK_THAT(all.quantile(0.975), WithinAbs(mean_share + slope * t + 1.96 * sd, 0.004));
      }
    }
  }
}

TEST_CASE("a table keeps draws near and beyond the ends of the grid from harm", "[share_table]")
{
  const ShareTable table = table_of({{-40.0F, 0.0F},
                                     {-1e-9F, 0.1F},
                                     {3.2F, 0.2F},
                                     {density_grid::nodes - 1.5F, 0.9F},
                                     {density_grid::nodes + 300.0F, 1.0F}},
                                    std::vector<float>(5, 0.2F));
  const ShareMoments low =
      table.moments(weights_of(referee::gaussian_curve(1.01 * density_grid::density_at(0), 0.003), 20));
  const ShareMoments high = table.moments(weights_of(referee::gaussian_curve(22.9, 0.003), 20));
  CHECK(low.mean > 0.0);
  CHECK(low.mean < 0.25);
  CHECK(high.mean > 0.85);
  CHECK(table.moments(weights_of(referee::gaussian_curve(8.0, 0.01), 20)).mean == 0.0);
}

// The quantiles of an even distribution are its probabilities.
TEST_CASE("a histogram of an even share gives even quantiles", "[share_histogram]")
{
  ShareHistogram all;
  constexpr int draws = 200000;
  for (int i = 0; i < draws; ++i) {
    all.add((i + 0.5) / draws, 1.0);
  }
  for (const double p : {0.025, 0.3, 0.5, 0.975}) {
    CHECK_THAT(all.quantile(p), WithinAbs(p, 1e-3));
    CHECK_THAT(all.place_of(p).below, WithinAbs(p, 2e-3));
  }
  all.add(0.0, draws);
  CHECK(all.quantile(0.49) == 0.0);
  CHECK_THAT(all.quantile(0.75), WithinAbs(0.5, 1e-3));
  CHECK_THAT(all.place_of(0.0).within, WithinAbs(0.5, 1e-9));
}

// Fine silver holds 0.9990 to 0.9999, and plate a few thousandths: neither is to be spread over more.
TEST_CASE("a histogram is fine at both ends", "[share_histogram]")
{
  for (const double share : {0.003, 0.9997}) {
    ShareHistogram one(ShareTable::bins);
    one.add(share, 1.0);
    CHECK_THAT(one.quantile(0.01), WithinAbs(share, 6e-4));
    CHECK_THAT(one.quantile(0.99), WithinAbs(share, 6e-4));
  }
  for (const double share : {0.0, 0.1, 0.5, 0.7, 1.0}) {
    CHECK_THAT(drawn_back(drawn_out(share)), WithinAbs(share, 1e-12));
  }
}

// A mixture of even distributions on the whole and at nothing.
TEST_CASE("histograms add up to their mixture", "[share_histogram]")
{
  ShareHistogram even;
  for (int i = 0; i < 10000; ++i) {
    even.add((i + 0.5) / 10000, 1e-4);
  }
  ShareHistogram nothing;
  nothing.add(0.0, 1.0);
  ShareHistogram mixed;
  mixed.add(even, 0.75);
  mixed.add(nothing, 0.25);
  CHECK_THAT(mixed.place_of(0.0).within, WithinAbs(0.25, 1e-12));
  CHECK_THAT(mixed.quantile(0.25 + 0.75 * 0.4), WithinAbs(0.4, 1e-3));
}

TEST_CASE("a band's ends are quantiles", "[share_histogram]")
{
  ShareHistogram half_none;
  half_none.add(0.0, 0.3);
  half_none.add(0.04, 0.1);
  half_none.add(0.5, 0.5);
  half_none.add(0.925, 0.1);
  for (const double level : {0.1, 0.5, 0.95, 0.999}) {
    const Band band = half_none.band(level);
    CHECK_THAT(band.low, WithinAbs(half_none.quantile(0.5 - 0.5 * level), 1e-12));
    CHECK_THAT(band.median, WithinAbs(half_none.quantile(0.5), 1e-12));
    CHECK_THAT(band.high, WithinAbs(half_none.quantile(0.5 + 0.5 * level), 1e-12));
  }
  CHECK(half_none.band(0.95).low == 0.0);
  CHECK_THAT(half_none.band(0.95).median, WithinAbs(0.5, 2e-3));
  CHECK_THAT(half_none.band(0.95).high, WithinAbs(0.925, 2e-3));
}

TEST_CASE("want of memory for a table of shares is an exception", "[share_table]")
{
  bool refused = true;
  int told = 0;
  for (int after = 0; refused && after < 100000; ++after) {
    ShareGrid grid({900.0F, 0.2F}, {980.0F, 0.4F}, scatter, ShareTable::finest, ShareTable::bins);
    const std::array<float, 2> place{900.0F, 980.0F};
    const std::array<float, 2> share{0.2F, 0.4F};
    const float mass = 1.0F;
    grid.add(place.data(), share.data(), &mass, 1);
    const testing::LimitedMemory limited(after);
    try {
      const ShareTable table(std::move(grid));
    } catch (const std::bad_alloc&) {
      ++told;
    }
    refused = testing::LimitedMemory::refused();
  }
  CHECK(told > 10);
  CHECK_FALSE(refused);
}
