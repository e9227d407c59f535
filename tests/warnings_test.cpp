#include <algorithm>
#include <catch2/catch.hpp>

#include "bilancetta/verdict.hpp"

using namespace bilancetta;

namespace
{

Piece weighed(double dry_g, double rise_g, ScaleClass scale_class)
{
  Piece piece;
  piece.weighing.scale = scale_of(scale_class);
  piece.weighing.surroundings.wetting = Wetting::boiled;
  piece.weighing.readings.dry_g = {dry_g};
  piece.weighing.readings.rise_g = {rise_g};
  return piece;
}

bool warns(const Piece& piece, const char* words)
{
  const std::vector<std::string> all = warnings_of(weigh_up(piece.weighing, 0.95), piece);
  return std::any_of(all.begin(), all.end(),
                     [&](const std::string& one) { return one.find(words) != std::string::npos; });
}

}  // namespace

TEST_CASE("repeats that run one way, or apart, are pointed out", "[verdict]")
{
  Piece piece = weighed(4.210, 0.400, ScaleClass::jeweller);
  const auto warned = [&](const std::vector<double>& rises, const char* words) {
    piece.weighing.readings.rise_g = rises;
    return warns(piece, words);
  };
  CHECK(warned({0.400, 0.404, 0.409}, "run one way"));
  CHECK_FALSE(warned({0.400, 0.402, 0.401}, "run one way"));
  CHECK(warned({0.400, 0.400, 0.400}, "all the same"));
  CHECK(warned({0.400, 0.460, 0.410}, "repeatability"));
  CHECK(warned({4.210}, "rest on the bottom"));
}

TEST_CASE("a disc that cannot be what was weighed is pointed out", "[verdict]")
{
  Piece piece = weighed(3.000, 0.334, ScaleClass::jeweller);  // 0.335 cm3
  CHECK_FALSE(warns(piece, "A disc of that size"));
  piece.weighing.disc_cm3 = 0.126;  // 8 x 2.5 mm
  CHECK(warns(piece, "has 0.13 cm3, but the liquid says 0.33 cm3"));
  piece.weighing.disc_cm3 = 0.38;
  CHECK_FALSE(warns(piece, "A disc of that size"));
  piece.weighing.disc_cm3 = 0.8;
  CHECK(warns(piece, "A disc of that size"));
}

TEST_CASE("the steps that count are those of the scale that weighs in the liquid", "[verdict]")
{
  Piece piece = weighed(32.0, 3.087, ScaleClass::kitchen);
  CHECK(warns(piece, "steps of this scale"));
  piece.weighing.liquid_scale = scale_of(ScaleClass::jeweller);
  CHECK_FALSE(warns(piece, "steps of this scale"));
  piece = weighed(0.5000, 0.05, ScaleClass::laboratory);
  CHECK_FALSE(warns(piece, "steps of this scale"));
  piece.weighing.liquid_scale = scale_of(ScaleClass::pocket);
  CHECK(warns(piece, "steps of this scale"));
}

// A sphere has the least surface for its volume: 4.836 V^(2/3).
TEST_CASE("a surface that no body of that volume has is pointed out", "[verdict]")
{
  Piece piece = weighed(3.000, 0.334, ScaleClass::jeweller);  // 0.335 cm3, at least 2.33 cm2
  piece.weighing.area_cm2 = 2.3;
  CHECK_FALSE(warns(piece, "of surface"));
  piece.weighing.area_cm2 = 0.025;
  CHECK(warns(piece, "at least 2.3 cm2 of surface, not 0.025 cm2"));
}

TEST_CASE("more open pores than sintered parts have are pointed out", "[verdict]")
{
  Piece piece = weighed(6.120, 0.610, ScaleClass::jeweller);
  piece.weighing.readings.soaked_g = 6.20;
  CHECK_FALSE(warns(piece, "sintered"));
  piece.weighing.readings.soaked_g = 8.00;
  CHECK(warns(piece, "So much of a sintered part is hardly ever open"));
}
