#include "bilancetta/remedy.hpp"

#include <catch2/catch.hpp>

using namespace bilancetta;
using Catch::Matchers::WithinRel;

namespace
{

Weighing weighed(double dry_g, double rise_g, ScaleClass scale_class)
{
  Weighing w;
  w.scale = scale_of(scale_class);
  w.surroundings.wetting = Wetting::boiled;
  w.readings.dry_g = {dry_g};
  w.readings.rise_g = {rise_g};
  return w;
}

}  // namespace

TEST_CASE("the remedy is the one that leaves least, and none is named where none helps", "[remedy]")
{
  const Weighing small = weighed(0.50, 0.05, ScaleClass::pocket);
  const Remedy remedy = best_remedy(small);
  CHECK(remedy.words.find("like pieces") != std::string::npos);
  CHECK(remedy.standard_uncertainty < 0.25 * combined_u(small));  // five of them, and what does not average out
  Weighing bubbly = weighed(30.0000, 2.8580, ScaleClass::laboratory);
  bubbly.surroundings.wetting = Wetting::dunked;
  bubbly.surroundings.water_c_u = 0.1;
  CHECK(best_remedy(bubbly).words.find("soap") != std::string::npos);
}

// Against the curve of the same readings, which takes repeats at their own scatter by another way.
TEST_CASE("the budget of scattering repeats is theirs, and ten pieces scatter no more than one", "[remedy]")
{
  Weighing w = weighed(3.214, 0.0, ScaleClass::jeweller);
  w.readings.rise_g = {0.318, 0.330, 0.322, 0.340};
  const DensitySummary summary = summary_of(density_curve_of(w), w, 0.95);
  CHECK(combined_u(w) > 0.8 * summary.standard_uncertainty);
  CHECK(combined_u(w) < 1.2 * summary.standard_uncertainty);
  const auto sharper = sharper_weighings(w);
  REQUIRE(sharper[0].key == "pool");
  CHECK_THAT(combined_u(sharper[0].weighing), WithinRel(0.1 * combined_u(w), 0.1));
}

// The same piece, hung with its holder on the pan or with the holder tared, and the same with more of them.
TEST_CASE("a holder on the pan is not weighed ten times with ten pieces", "[remedy]")
{
  Weighing tared = weighed(5.00, 0.0, ScaleClass::pocket);
  tared.readings.rise_g = {};
  tared.readings.submerged_g = {4.50};
  Weighing held = tared;
  held.readings.submerged_g = {12.50};
  held.readings.holder_g = 8.00;
  CHECK(best_remedy(held).standard_uncertainty > 0.9 * best_remedy(tared).standard_uncertainty);
  for (const SharperWeighing& sharper : sharper_weighings(held)) {
    const Displacement d = displacement_of(sharper.weighing.readings);
    CHECK_THAT(d.displaced_g / d.dry_g, WithinRel(0.1, 1e-9));
  }
}

// A bottle of 40 g, in which each gram of the piece takes the place of a tenth of a gram of water.
TEST_CASE("ten pieces in a bottle displace ten times as much", "[remedy]")
{
  Weighing w = weighed(5.000, 0.0, ScaleClass::jeweller);
  w.readings.rise_g = {};
  w.readings.bottle_full_g = 40.000;
  w.readings.bottle_with_piece_g = 44.500;
  for (const SharperWeighing& sharper : sharper_weighings(w)) {
    const Displacement d = displacement_of(sharper.weighing.readings);
    INFO(sharper.key);
    CHECK_THAT(d.displaced_g / d.dry_g, WithinRel(0.1, 1e-9));
  }
}

// Half a gram displaces five steps: four times as much is twenty.
TEST_CASE("the report tells of one number of like pieces to weigh together", "[remedy]")
{
  const auto pooled = [](const Weighing& w) {
    const SharperWeighing pool = sharper_weighings(w)[0];
    CHECK(pool.key == "pool");
    return pool.weighing.count;
  };
  const auto needed = [](const Weighing& w) { return pieces_to_pool(summary_of(density_curve_of(w), w), w); };
  Weighing small = weighed(0.50, 0.05, ScaleClass::pocket);
  CHECK(needed(small) >= 4);
  CHECK(needed(small) <= 5);
  CHECK(pooled(small) == needed(small));
  CHECK(best_remedy(small).words == "weighing 5 like pieces together");
  small = weighed(0.10, 0.01, ScaleClass::pocket);
  CHECK(needed(small) > 10);
  CHECK(pooled(small) == needed(small));
  // Fifteen steps are not twenty, but good to 4 %.
  CHECK(pooled(weighed(1.50, 0.15, ScaleClass::pocket)) == 10);
  // Where the scale sees enough more is better still: ten, or twice as many.
  Weighing large = weighed(5.00, 0.50, ScaleClass::pocket);
  CHECK(needed(large) == 1);
  CHECK(pooled(large) == 10);
  large.count = 12;
  CHECK(pooled(large) == 24);
}

// By hand: of two scales the span is good to sqrt(2) x 0.0005 x 3.4304 g; on one it cancels.
TEST_CASE("of two scales one for both readings is the remedy, and no scale that is there already", "[remedy]")
{
  Weighing two = weighed(3.8749, 0.0, ScaleClass::laboratory);
  two.surroundings.wetting = Wetting::sealed;
  two.readings.rise_g = {};
  two.readings.submerged_g = {3.4304};
  two.liquid_scale = two.scale;
  const Remedy remedy = best_remedy(two);
  CHECK(remedy.words == "both readings on one scale");
  Weighing one = two;
  one.liquid_scale.reset();
  CHECK_THAT(remedy.standard_uncertainty, WithinRel(combined_u(one), 1e-9));
  CHECK(remedy.standard_uncertainty < 0.25 * combined_u(two));
  CHECK(best_remedy(one).words.find("scale") == std::string::npos);
  const auto steps = [](const Weighing& w) {
    std::string keys;
    for (const SharperWeighing& sharper : sharper_weighings(w)) {
      keys += sharper.key + " ";
    }
    return keys;
  };
  CHECK(steps(two) == "pool repeats one-scale ");
  CHECK(steps(one) == "pool repeats ");
  two.scale = scale_of(ScaleClass::jeweller);
  two.readings.dry_g = {3.875};
  CHECK(best_remedy(two).words == "both readings on the one scale that shows 0.0001 g");
  CHECK(steps(two) == "pool repeats one-scale ");
  // A coarser reading in the liquid: a finer scale is one that is finer than both.
  two.liquid_scale = scale_of(ScaleClass::pocket);
  for (const SharperWeighing& sharper : sharper_weighings(two)) {
    if (sharper.key == "finer-scale") {
      CHECK(sharper.step == "Weigh it on a scale that shows 0.0001 g for both readings.");
    }
  }
  // What is worse than its step says is not mended by another of that step.
  Weighing shaky = one;
  shaky.scale.repeatability_g = 0.005;
  CHECK(best_remedy(shaky).words.find("0.0001") == std::string::npos);
}

TEST_CASE("only water is boiled beforehand and soaped", "[remedy]")
{
  Weighing bubbly = weighed(30.0000, 2.8580, ScaleClass::laboratory);
  bubbly.surroundings.wetting = Wetting::dunked;
  bubbly.surroundings.water_c_u = 0.1;
  CHECK(best_remedy(bubbly).words ==
        "a drop of soap in water that was boiled and has cooled, the piece shaken free of bubbles");
  bubbly.surroundings.liquid_density_g_cm3 = 0.998;
  bubbly.surroundings.liquid_density_u_g_cm3 = 0.0001;
  CHECK(best_remedy(bubbly).words == "the piece shaken free of bubbles");
  bubbly.surroundings.wetting = Wetting::soaped;
  CHECK(best_remedy(bubbly).words.find("bubbles") == std::string::npos);
}

// No outside source: ten at least, twice as many, or three times from twenty on.
TEST_CASE("so many more like pieces are proposed as a jar may hold", "[remedy]")
{
  for (const auto& [count, more] : {std::pair{1, 10}, {5, 10}, {6, 12}, {19, 38}, {20, 60}, {30, 90}}) {
    Weighing w = weighed(5.00 * count, 0.50 * count, ScaleClass::pocket);
    w.count = count;
    CHECK(sharper_weighings(w)[0].weighing.count == more);
  }
}

TEST_CASE("bubbles are to be shaken off where nothing was done against them, in water with soap", "[remedy]")
{
  Weighing w = weighed(31.20, 3.06, ScaleClass::pocket);
  const auto step = [&] {
    for (const SharperWeighing& sharper : sharper_weighings(w)) {
      if (sharper.key == "wetting") {
        CHECK(combined_u(sharper.weighing) < combined_u(w));
        return sharper.step;
      }
    }
    return std::string();
  };
  for (const Wetting done : {Wetting::soaped, Wetting::boiled, Wetting::sealed}) {
    w.surroundings.wetting = done;
    CHECK(step().empty());
  }
  w.surroundings.wetting = Wetting::dunked;
  CHECK(step().find("soap in the water") != std::string::npos);
  w.surroundings.liquid_density_g_cm3 = 0.79;
  CHECK(step().find("soap in") == std::string::npos);
  CHECK(step().find("Shake the bubbles off") == 0);
}
