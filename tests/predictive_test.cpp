#include "predictive.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "bilancetta/plan.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;
using Catch::Matchers::WithinAbs;

namespace
{

// A hypothesis whose density is normal about 10.4 g/cm3.
GridFunction normal_prediction(double sd_g_cm3)
{
  const int first = static_cast<int>(density_grid::position_of(10.4 - 6.0 * sd_g_cm3));
  const int last = static_cast<int>(density_grid::position_of(10.4 + 6.0 * sd_g_cm3));
  GridFunction predicted{first, {}};
  for (int node = first; node <= last; ++node) {
    const double z = (density_grid::density_at(node) - 10.4) / sd_g_cm3;
    predicted.value.push_back(static_cast<float>(std::exp(-0.5 * z * z)));
  }
  return predicted;
}

struct Read {
  DensityCurve curve;
  double share;
  [[nodiscard]] double share_of(double density) const
  {
    return (curve.liquid_g_cm3 - curve.air_g_cm3) / (density - curve.air_g_cm3);
  }
};

Read read_at(double each_g, ScaleClass scale)
{
  PlannedWeighing plan;
  plan.scale = scale_of(scale);
  plan.each_g = each_g;
  plan.surroundings.wetting = Wetting::boiled;  // bubbles would make light readings likelier
  const Weighing weighing = ideal_weighing(plan, 10.4);
  const Displacement d = displacement_of(weighing.readings);
  return {density_curve_of(weighing), d.displaced_g / d.dry_g};
}

}  // namespace

TEST_CASE("the tail of a normal prediction is its two-sided p-value", "[predictive]")
{
  // NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.1: the normal distribution holds 31.73 % beyond
  // 1 standard deviation, 4.55 % beyond 2 and 1.24 % beyond 2.5. The figures are from memory.
  const Read read = read_at(200.0, ScaleClass::laboratory);
  const double sd = 0.08;
  const Predictive predictive(read.curve, read.share, normal_prediction(sd));
  for (const auto& [z, tail] : {std::pair{1.0, 0.3173}, {2.0, 0.0455}, {2.5, 0.0124}}) {
    for (const double side : {-1.0, 1.0}) {
      CHECK_THAT(predictive.tail_at(read.share_of(10.4 + side * z * sd)), WithinAbs(tail, 0.06 * tail));
    }
  }
  CHECK(predictive.tail_at(read.share_of(11.4)) == 0.0);
}

TEST_CASE("a claim refuses the readings whose tail is below 1 %, and only one true weighing in a hundred",
          "[predictive][claim]")
{
  for (const ScaleClass scale : {ScaleClass::pocket, ScaleClass::jeweller, ScaleClass::laboratory}) {
    for (const double each_g : {1.0, 20.0}) {
      const Read read = read_at(each_g, scale);
      const Predictive predictive(read.curve, read.share, normal_prediction(0.03));
      ClaimedReadings claimed;
      claimed.add(predictive);
      for (int i = 7000; i < 14000; ++i) {
        const double share = read.share_of(0.001 * i);
        REQUIRE(claimed.refuses(share) == (claimed.tail_at(share) < ClaimedReadings::refused_below));
      }
      const double refused = predictive.probability_that([&](double share) { return claimed.refuses(share); });
      CHECK_THAT(refused, WithinAbs(ClaimedReadings::refused_below, 1e-4));
    }
  }
}

TEST_CASE("what is always refused is so in no more than every case", "[predictive]")
{
  for (const ScaleClass scale : {ScaleClass::pocket, ScaleClass::jeweller, ScaleClass::laboratory}) {
    for (int g = 1; g < 40; ++g) {
      const Read read = read_at(g, scale);
      const double refused =
          Predictive(read.curve, read.share, normal_prediction(0.03)).probability_that([](double) { return true; });
      CHECK(refused <= 1.0);
      CHECK(refused > 0.99999);
    }
  }
}

TEST_CASE("no reading falls outside the reach of a prediction", "[predictive]")
{
  const Read read = read_at(3.0, ScaleClass::pocket);
  const GridFunction predicted = normal_prediction(0.05);
  const Predictive predictive(read.curve, read.share, predicted);
  const ShareReach reach = Predictive::reach_of(read.curve, read.share, predicted);
  const double width = reach.high - reach.low;
  CHECK(reach.holds(read.share));
  CHECK(predictive.tail_at(reach.low - 0.01 * width) == 0.0);
  CHECK(predictive.tail_at(reach.high + 0.01 * width) == 0.0);
  CHECK(predictive.tail_at(read.share) > 0.5);
  CHECK(reach.meets({reach.high - 0.1 * width, reach.high + width}));
  CHECK_FALSE(reach.meets({reach.high + 0.1 * width, reach.high + width}));
}
