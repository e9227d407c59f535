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
}

TEST_CASE("which repeats are meant is said, and scatter far beyond the noise before their order", "[verdict]")
{
  Piece piece = weighed(4.210, 0.400, ScaleClass::jeweller);
  piece.weighing.readings.dry_g = {4.210, 4.210, 4.210};
  piece.weighing.readings.rise_g = {0.400, 0.460, 0.520};
  CHECK(warns(piece, "The dry repeats are all the same"));
  CHECK(warns(piece, "The repeats in the liquid lie 0.12 g apart"));
  CHECK_FALSE(warns(piece, "run one way"));
  piece.weighing.readings.rise_g.clear();
  piece.weighing.readings.submerged_g = {3.800, 3.804, 3.809};
  CHECK(warns(piece, "The repeats in the liquid run one way: bubbles that leave"));
  piece.weighing.readings.dry_g = {4.210, 4.214, 4.219};
  CHECK(warns(piece, "The dry repeats run one way: a piece that is still wet or drying"));
}

TEST_CASE("repeats disagree that lie further apart than a step and the noise, on the scale that read them", "[verdict]")
{
  Piece piece = weighed(24.05, 2.32, ScaleClass::pocket);
  CHECK_FALSE(repeats_disagree(piece.weighing));
  piece.weighing.readings.rise_g = {2.32, 2.33, 2.34};
  CHECK_FALSE(repeats_disagree(piece.weighing));
  piece.weighing.liquid_scale = scale_of(ScaleClass::jeweller);
  CHECK(repeats_disagree(piece.weighing));
  piece.weighing.liquid_scale.reset();
  piece.weighing.readings.dry_g = {24.05, 21.40};
  CHECK(repeats_disagree(piece.weighing));
}

TEST_CASE("like pieces are pooled where the scale is too coarse, unless one thing alone weighs so", "[verdict]")
{
  Piece piece = weighed(0.50, 0.05, ScaleClass::pocket);
  Analysis analysis = weigh_up(piece.weighing, 0.95);
  REQUIRE(is_rough(analysis.density));
  analysis.posterior = {0.6, 0.4};
  CHECK(must_be_pooled(analysis, piece));
  analysis.posterior = {0.97, 0.03};
  CHECK_FALSE(must_be_pooled(analysis, piece));
  piece.claim = "925";
  CHECK(must_be_pooled(analysis, piece));
  piece = weighed(50.00, 5.00, ScaleClass::pocket);
  CHECK_FALSE(must_be_pooled(weigh_up(piece.weighing, 0.95), piece));
}

// What is little for a pocket scale's noise is much for a laboratory scale's.
TEST_CASE("repeats are held against the noise of the scale that they were read on", "[verdict]")
{
  Piece piece = weighed(5.0000, 0.48, ScaleClass::laboratory);
  piece.weighing.liquid_scale = scale_of(ScaleClass::pocket);
  piece.weighing.readings.rise_g.clear();
  piece.weighing.readings.submerged_g = {4.51, 4.53, 4.55};
  CHECK(warns(piece, "The repeats in the liquid run one way"));
  piece.weighing.readings.submerged_g = {4.52};
  piece.weighing.readings.dry_g = {5.0000, 5.0200, 5.0100};
  CHECK(warns(piece, "The dry repeats lie 0.02 g apart"));
}

TEST_CASE("a rise of the dry weight is pointed out however it was read", "[verdict]")
{
  Piece piece = weighed(4.210, 4.210, ScaleClass::jeweller);
  CHECK(warns(piece, "rest on the bottom"));
  piece.weighing.readings.rise_g = {4.209, 4.210, 4.211};
  CHECK(warns(piece, "rest on the bottom"));
  piece.weighing.readings.rise_g.clear();
  piece.weighing.readings.cup_before_g = 80.0;
  piece.weighing.readings.cup_after_g = 84.21;
  CHECK(warns(piece, "rest on the bottom"));
  piece.weighing.readings.cup_after_g = 80.40;
  CHECK_FALSE(warns(piece, "rest on the bottom"));
  // Of a rise of three steps that says nothing.
  piece = weighed(0.02, 0.03, ScaleClass::pocket);
  piece.weighing.as_typed = true;
  CHECK_FALSE(warns(piece, "rest on the bottom"));
}

// 0.319 cm3: half of its least surface is 1.13 cm2, so it is at most 2.8 mm thick; a disc may be thicker.
TEST_CASE("a layer thicker than the piece is pointed out", "[verdict]")
{
  Piece piece = weighed(3.210, 0.318, ScaleClass::jeweller);
  const char* words = "is more than this piece is thick: check --layer-mm (mm)";
  CHECK_FALSE(warns(piece, words));
  piece.layer_mm = 1.0;
  CHECK_FALSE(warns(piece, words));
  piece.layer_mm = 2.7;
  CHECK_FALSE(warns(piece, words));
  piece.layer_mm = 3.0;
  CHECK(warns(piece, words));
  piece.layer_mm = 6.0;
  CHECK(warns(piece, "A layer of 6 mm is more than this piece is thick"));
  piece.weighing.face_cm2 = 0.785;  // 10 x 4.05 mm
  piece.weighing.disc_cm3 = 0.318;
  CHECK(warns(piece, words));
  piece.layer_mm = 3.9;
  CHECK_FALSE(warns(piece, words));
}

TEST_CASE("no more pieces are asked for than a weighing may have", "[verdict]")
{
  Piece piece = weighed(0.001, 0.0, ScaleClass::laboratory);
  piece.weighing.liquid_scale = scale_of(ScaleClass::kitchen);
  piece.weighing.count = 100000;
  CHECK(pieces_to_pool(weigh_up(piece.weighing, 0.95), piece.weighing) == 1000000);
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
  // Ten of them together: the disc is one piece.
  piece = weighed(30.00, 3.34, ScaleClass::pocket);
  piece.weighing.count = 10;
  piece.weighing.disc_cm3 = 0.126;
  CHECK(warns(piece, "has 0.13 cm3, but the liquid says 0.33 cm3"));
  piece.weighing.disc_cm3 = 0.337;  // 8 x 6.7 mm
  CHECK_FALSE(warns(piece, "A disc of that size"));
}

TEST_CASE("the steps that count are those of the scale that weighs in the liquid", "[verdict]")
{
  CHECK(warns(weighed(1.00, 0.08, ScaleClass::pocket), "only 8 steps of this scale"));
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
  piece = weighed(15.000, 1.670, ScaleClass::jeweller);  // five of these; the area is that of one
  piece.weighing.count = 5;
  piece.weighing.area_cm2 = 2.3;
  CHECK_FALSE(warns(piece, "of surface"));
}

// A sheet of V cm3 that has A cm2, both faces together, is 2 V/A cm = 20 V/A mm thick: 20 x 0.5/340 = 0.029.
TEST_CASE("a surface of a thin sheet is told with the thickness of the sheet", "[verdict]")
{
  Piece piece = weighed(5.00, 0.50, ScaleClass::pocket);
  piece.weighing.area_cm2 = 340.0;
  CHECK(warns(piece, "340 cm2 on 0.5 cm3 would be a sheet of 0.029 mm"));
}

TEST_CASE("more open pores than sintered parts have are pointed out", "[verdict]")
{
  Piece piece = weighed(6.120, 0.610, ScaleClass::jeweller);
  piece.weighing.readings.soaked_g = 6.20;
  CHECK_FALSE(warns(piece, "sintered"));
  piece.weighing.readings.soaked_g = 8.00;
  CHECK(warns(piece, "So much of a sintered part is hardly ever open"));
}

// Uranium has 19.05 g/cm3, tungsten 19.25, gold 19.3 (CRC Handbook of Chemistry and Physics; from memory).
TEST_CASE("a heavy weight that may be depleted uranium is told of", "[verdict]")
{
  CHECK(warns(weighed(200.0, 10.5, ScaleClass::jeweller), "depleted uranium"));         // 19.0
  CHECK_FALSE(warns(weighed(200.0, 10.0, ScaleClass::jeweller), "depleted uranium"));   // 20.0
  CHECK_FALSE(warns(weighed(200.0, 19.3, ScaleClass::jeweller), "depleted uranium"));   // sterling
  CHECK_FALSE(warns(weighed(2.0, 0.105, ScaleClass::laboratory), "depleted uranium"));  // a contact disc
}

// The heaviest metal, osmium, is 22.59 g/cm3 (CRC Handbook, "Physical constants of inorganic compounds"; from memory),
// the lightest, lithium, 0.534: what lies beyond is a slip of the bench, however well it was read.
TEST_CASE("readings beyond the heaviest and the lightest metal are pointed out", "[verdict]")
{
  const auto warned = [](double dry_g) {
    Piece piece = weighed(dry_g, 1.00, ScaleClass::pocket);
    piece.weighing.as_typed = true;  // lighter than water: else refused
    return warns(piece, "no metal weighs that");
  };
  for (const double dry_g : {24.00, 60.00, 0.45, 0.10}) {
    INFO(dry_g);
    CHECK(warned(dry_g));
  }
  for (const double dry_g : {22.59, 10.49, 0.54}) {
    INFO(dry_g);
    CHECK_FALSE(warned(dry_g));
  }
}
