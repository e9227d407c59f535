#include "bilancetta/mixed_verdict.hpp"

#include <algorithm>

#include "bilancetta/report.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;

namespace
{

Analysis weighed(const Piece& piece)
{
  static const MixtureRange range = mixture_range_of(built_in_tables());
  return weigh_up_mixed(range, piece, 0.95);
}

Piece heap(double dry_g, double rise_g, ScaleClass scale = ScaleClass::pocket)
{
  Piece piece;
  piece.weighing = rise_weighing(dry_g, rise_g, scale_of(scale));
  piece.weighing.as_typed = true;
  return piece;
}

// What displaces that much in water of 20 C.
Piece heap_of(double density, ScaleClass scale)
{
  constexpr double dry_g = 40.0;
  constexpr double air = 0.0012;
  Piece piece = heap(dry_g, dry_g * (0.99820 - air) / (density - air), scale);
  piece.weighing.surroundings.wetting = Wetting::sealed;
  return piece;
}

// In one line.
std::string page(const Piece& piece)
{
  std::string text = text_of_mixed(built_in_tables(), piece, weighed(piece), {"1.0", "", {}});
  std::replace(text.begin(), text.end(), '\n', ' ');
  return text;
}

}  // namespace

// 40.00 g that displace 1.20 g would have 33 g/cm3; platinum-iridium, the heaviest of the tables, has 21.6.
TEST_CASE("unlike pieces with a density that no mixture has are told of like a single piece", "[mixed_verdict]")
{
  for (const auto& [dry_g, rise_g] : {std::pair{40.00, 1.20}, {4.00, 0.00}, {1.00, 0.00}, {40.00, 1.76}}) {
    const Piece piece = heap(dry_g, rise_g);
    INFO(dry_g << " " << rise_g);
    CHECK_FALSE(weighed(piece).explained);
    CHECK(contains(page(piece), "heck the tare, and"));
    CHECK(contains(page(piece), "Next: Tare the scale"));
    CHECK_FALSE(contains(page(piece), "Sort them"));
  }
  CHECK(contains(page(heap(40.00, 1.20)), "Warning: The readings give 33.2 g/cm3"));
  CHECK(contains(page(heap(40.00, 1.76)), "No metal is so heavy"));
  CHECK_FALSE(weighed(heap_of(22.2, ScaleClass::jeweller)).explained);
  // Of 0.8 g/cm3 nothing is solid.
  const Piece light = heap(40.00, 50.00);
  CHECK_FALSE(weighed(light).explained);
  CHECK(contains(page(light), "think of hollow pieces"));
  CHECK(contains(page(light), "Next: Weigh them once more"));
}

TEST_CASE("unlike pieces of a density that a mixture has, or may have, stay as they are", "[mixed_verdict]")
{
  for (const Piece& piece : {heap(5.00, 0.48), heap(0.04, 0.00), heap(1.00, 0.05), heap(40.00, 23.0)}) {
    INFO(piece.weighing.readings.dry_g.front());
    CHECK(weighed(piece).explained);
    CHECK(contains(page(piece), "it names no metal"));
    CHECK(contains(page(piece), "Sort them"));
  }
  // Every material by itself, on the finest of scales.
  const Tables& tables = built_in_tables();
  for (const Material& material : tables.materials) {
    INFO(material.key);
    const double density = typical_density_g_cm3(material, tables.constituents);
    CHECK(weighed(heap_of(density * (1.0 - 2.0 * material.scatter), ScaleClass::laboratory)).explained);
    CHECK(weighed(heap_of(density * (1.0 + 2.0 * material.scatter), ScaleClass::laboratory)).explained);
  }
}

// Of platinum-iridium that weighs a little more than its row says all is platinum and iridium.
TEST_CASE("just beyond the heaviest and the lightest material the bounds are theirs", "[mixed_verdict]")
{
  const Tables& tables = built_in_tables();
  const MixedHeap platinum(tables, find_constituent(tables, "Pt"));
  const MixedHeap silver(tables, find_constituent(tables, "Ag"));
  CHECK(platinum.between(21.66, 21.68).first > 0.7);
  CHECK(silver.between(21.66, 21.68) == std::pair(0.0, 0.0));
  CHECK(silver.between(1.60, 1.62).second < 0.5);
}

TEST_CASE("a heap of hollow ware may be light, but not heavier than metal", "[mixed_verdict]")
{
  Piece light = heap(40.00, 36.00);
  CHECK_FALSE(weighed(light).explained);
  light.context.form = Form::hollow;
  CHECK(weighed(light).explained);
  Piece heavy = heap(40.00, 1.20);
  heavy.context.form = Form::hollow;
  CHECK_FALSE(weighed(heavy).explained);
}

TEST_CASE("of a claim, a lot and known values of unlike pieces it is said that they are not used", "[mixed_verdict]")
{
  const Piece plain = heap(5.00, 0.48);
  CHECK(mixed_warnings_of(weighed(plain), plain).empty());
  const auto only_warning = [&](const auto& change) {
    Piece piece = plain;
    change(piece);
    const std::vector<std::string> warnings = mixed_warnings_of(weighed(piece), piece);
    REQUIRE(warnings.size() == 1);
    return warnings[0];
  };
  CHECK(contains(only_warning([](Piece& p) { p.claim = "sterling"; }), "claim cannot be checked"));
  CHECK(contains(only_warning([](Piece& p) { p.lot = "springs"; }), "no lot"));
  CHECK(contains(only_warning([](Piece& p) { p.reference_density_g_cm3 = 8.5; }), "not used"));
  CHECK(contains(only_warning([](Piece& p) { p.reference_mass_g = 5.0; }), "not used"));
}
