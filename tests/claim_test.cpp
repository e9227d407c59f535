#include "bilancetta/claim.hpp"

#include <algorithm>
#include <map>

#include "bilancetta/verdict.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;

namespace
{

const Prepared& prepared()
{
  static const Prepared all(built_in_tables());
  return all;
}

Piece claimed_piece(const std::string& claim, double density, double dry_g, Form form, ScaleClass scale_class)
{
  Piece piece;
  piece.claim = claim;
  piece.context.place = "tableware";
  piece.context.form = form;
  piece.weighing.scale = scale_of(scale_class);
  piece.weighing.surroundings.wetting = Wetting::boiled;
  const double air = air_density_g_cm3({});
  const double rise = dry_g * (water_density_g_cm3(20.0) - air) / (density - air);
  const double step = piece.weighing.scale.readability_g;
  piece.weighing.readings.dry_g = {dry_g};
  piece.weighing.readings.rise_g = {std::round(rise / step) * step};
  return piece;
}

ClaimVerdict claim_of(const std::string& claim, double density, double dry_g, Form form = Form::solid,
                      ScaleClass scale_class = ScaleClass::laboratory)
{
  return *verdict_of(prepared(), claimed_piece(claim, density, dry_g, form, scale_class), {}).claim;
}

bool looks_alike(const ClaimVerdict& claim, const std::string& key, const std::string& over = "")
{
  return std::any_of(claim.look_alikes.begin(), claim.look_alikes.end(),
                     [&](const auto& one) { return one.key == key && (over.empty() || one.over == over); });
}

double typical(const std::string& key)
{
  return typical_density_g_cm3(material_called(built_in_tables(), key), built_in_tables().constituents);
}

}  // namespace

TEST_CASE("the usual marks and every material key are claims", "[claim]")
{
  const Tables& tables = built_in_tables();
  // Marks of common practice, no source.
  for (const char* mark : {"999",          "958",           "950",      "935",         "925",         "900",
                           "875",          "835",           "830",      "800",         "750",         "720",
                           "640",          "625",           "500",      "400",         "8k",          "9k",
                           "10k",          "14k",           "18k",      "22k",         "24k",         "gold-750",
                           "platinum-950", "palladium-950", "sterling", "coin-silver", "fine-silver", "silver-plate"}) {
    INFO(mark);
    CHECK_NOTHROW(claim_called(tables, mark));
  }
  for (const Material& material : tables.materials) {
    INFO(material.key);
    const Claim claim = claim_called(tables, material.key);
    CHECK((!claim.materials.empty() || !claim.plated_with.empty()));
  }
}

// Marks of common practice, no source; those of gold coats as in the trade rules of the United States (16 CFR part 23,
// from memory).
TEST_CASE("marks of coats and of nickel silver are taken for what they are", "[claim]")
{
  for (const auto& [key, marks] : std::map<std::string, std::vector<const char*>>{
           {"gold-filled",
            {"GF", "G.F.", "12k GF", "1/20 12k GF", "1/20th 14 KT G.F.", "14kgf", "gold filled 1/10 10K", "RGP",
             "10K R.G.P.", "1/40 10K RGP", "rolled gold", "14 karat gold-filled"}},
           {"gold-plate", {"GP", "GEP", "18k GEP", "HGE", "14KT HGE", "18KGP", "gold plated", "24k gold electroplate"}},
           {"silver-plate", {"EPNS", "E.P.N.S.", "EP", "A1", "EPNS A1", "silver plate", "plated"}},
           {"nickel-silver", {"alpaca", "German silver", "nickel silver", "Alpacca"}}}) {
    for (const char* mark : marks) {
      INFO(mark);
      const Claim claim = claim_called(built_in_tables(), mark);
      CHECK(claim.key == key);
      CHECK(claim.meaning.back() == '.');
    }
  }
  // A karat alone is of gold through and through; a karat is no part of other marks.
  CHECK(claim_called(built_in_tables(), "14k").plated_with.empty());
  for (const char* mark :
       {"12k sterling", "1/20", "1/20 12k", "14k 925", "12k lead", "14k plated", "14k silver plate"}) {
    INFO(mark);
    CHECK(refusal_of([&] { claim_called(built_in_tables(), mark); }).code == ErrorCode::unknown_key);
  }
}

TEST_CASE("a mark of a gold coat is not read as gold through and through", "[claim]")
{
  for (const char* mark : {"1/20 12k GF", "14k RGP", "18k HGE"}) {
    const std::string because = claim_of(mark, 8.7, 5.0, Form::solid, ScaleClass::jeweller).because;
    INFO(because);
    CHECK(contains(because, "no weight sees so thin a coat"));
    CHECK(contains(because, "on another metal"));
    CHECK(contains(because, "karat"));
    for (const double density : {8.7, 10.36, 12.3, 13.07, 15.5, 19.3}) {
      CHECK(claim_of(mark, density, 40.0).result != ClaimResult::consistent);
    }
    for (const double density : {12.3, 13.07, 15.5}) {  // 12, 14 and 18 karat
      CHECK(claim_of(mark, density, 40.0).result == ClaimResult::inconsistent);
    }
  }
  // Nickel silver has 8.7 g/cm3, and no silver.
  CHECK(contains(claim_of("alpaca", 8.7, 40.0).because, "holds no silver"));
  CHECK(claim_of("German silver", typical("sterling"), 40.0).result == ClaimResult::inconsistent);
  CHECK(contains(claim_of("EPNS", 8.7, 40.0).because, "no fineness"));
}

TEST_CASE("every claim that names materials can be agreed with, if the weighing is fine", "[claim]")
{
  for (const Claim& claim : built_in_tables().claims) {
    if (claim.materials.empty()) {
      continue;
    }
    INFO(claim.key);
    const std::string& key = built_in_tables().materials[claim.materials.front()].key;
    CHECK(claim_of(claim.key, typical(key), 40.0).result == ClaimResult::consistent);
  }
}

TEST_CASE("look-alikes of other families are named", "[claim]")
{
  // Densities of handbooks: molybdenum 10.22, tungsten 19.3, lead-tin near 10.2 at about 20 % tin.
  const ClaimVerdict sterling = claim_of("sterling", 10.22, 20.0, Form::solid, ScaleClass::pocket);
  CHECK(looks_alike(sterling, "molybdenum"));
  CHECK(contains(sterling.because, "molybdenum"));
  const ClaimVerdict gold = claim_of("24k", typical("gold-999"), 20.0);
  CHECK(looks_alike(gold, "tungsten"));
  CHECK(contains(gold.because, "tungsten"));
  const ClaimVerdict low = claim_of("silver-400", 9.05, 2.0, Form::solid, ScaleClass::pocket);
  CHECK(std::any_of(low.look_alikes.begin(), low.look_alikes.end(), [](const auto& one) { return !one.over.empty(); }));
}

TEST_CASE("a claim is answered in whole sentences that neither prove nor accuse", "[claim]")
{
  for (const char* claim : {"999", "925", "800", "400", "18k", "platinum-950", "silver-plate", "c11000"}) {
    for (const double density : {4.5, 8.7, 8.94, 10.2, 10.36, 10.49, 15.4, 19.3, 21.4}) {
      for (const Form form : {Form::solid, Form::unsure, Form::hollow, Form::filled}) {
        const ClaimVerdict v = claim_of(claim, density, 12.0, form);
        INFO(claim << " " << density << " " << name_of(form) << ": " << v.because << " / " << v.would_settle);
        CHECK(v.because.back() == '.');
        CHECK(std::isupper(static_cast<unsigned char>(v.because.front())) != 0);
        CHECK_FALSE(v.would_settle.empty());
        for (const char* word : {"genuine", "fake", "fraud", "false", "forg", "counterfeit", "cheat", "inconsistent"}) {
          CHECK_FALSE(contains(v.because + v.would_settle, word));
        }
        if (v.result == ClaimResult::inconsistent ||
            (v.result == ClaimResult::cannot_tell && v.tail_probability < 0.01)) {
          CHECK((contains(v.because, "hollow") || contains(v.because, "fill") || contains(v.because, "such a piece")));
        }
      }
    }
  }
}

// Of what a coarse weighing leaves, whoever reads it thinks of the neighbours first, not of what is farthest.
TEST_CASE("a weighing too coarse for a claim names likely metals before the farthest", "[claim]")
{
  const ClaimVerdict v = claim_of("925", 10.15, 1.2, Form::solid, ScaleClass::pocket);
  REQUIRE(v.result == ClaimResult::cannot_tell);
  REQUIRE_FALSE(v.also_fits.empty());
  INFO(v.because);
  REQUIRE(contains(v.because, " and even "));
  const std::size_t farthest = v.because.find(" and even ");
  CHECK(contains(v.because, " and even " + v.also_fits.front()));
  CHECK(std::any_of(v.look_alikes.begin(), v.look_alikes.end(),
                    [&](const auto& one) { return one.probability >= 0.05 && v.because.find(one.name) < farthest; }));
}

TEST_CASE("ware that may be hollow is not called inconsistent for being light, nor filled ware at all", "[claim]")
{
  CHECK(claim_of("sterling", 8.7, 30.0, Form::solid).result == ClaimResult::inconsistent);
  CHECK(claim_of("sterling", 8.7, 30.0, Form::unsure).result == ClaimResult::cannot_tell);
  CHECK(claim_of("sterling", 8.7, 30.0, Form::hollow).result == ClaimResult::cannot_tell);
  CHECK(claim_of("sterling", 12.0, 30.0, Form::unsure).result == ClaimResult::inconsistent);
  CHECK(claim_of("sterling", 12.0, 30.0, Form::filled).result == ClaimResult::cannot_tell);
  CHECK(claim_of("sterling", 12.0, 30.0, Form::hollow).result == ClaimResult::inconsistent);
  // A brass shell filled with lead can weigh just what sterling does, and no weighing would refuse it.
  CHECK(claim_of("sterling", 10.36, 30.0, Form::unsure).result == ClaimResult::consistent);
  for (const Form form : {Form::hollow, Form::filled}) {
    const ClaimVerdict v = claim_of("sterling", 10.36, 30.0, form);
    CHECK(v.result == ClaimResult::cannot_tell);
    CHECK(contains(v.because, "agrees with sterling"));
    CHECK(contains(v.because, "cannot tell"));
    CHECK(contains(v.would_settle, "seams"));
  }
}

// 32 g of 10.36 g/cm3 displace 32 (0.9982 - 0.0012)/(10.36 - 0.0012) = 3.080 g of water at 20 C.
TEST_CASE("a refused claim says what it would have read, and whether the piece is too light or too heavy", "[claim]")
{
  const auto because = [](double rise_g) {
    Piece piece = claimed_piece("925", 10.36, 32.0, Form::solid, ScaleClass::jeweller);
    piece.weighing.readings.rise_g = {rise_g};
    const ClaimVerdict v = *verdict_of(prepared(), piece, {}).claim;
    CHECK(v.result == ClaimResult::inconsistent);
    return v.because;
  };
  const std::string light = because(3.655);
  INFO(light);
  CHECK(contains(light, "would have read about 3.080 g, yours read 3.655 g"));
  CHECK(contains(light, "A hollow, a lighter core"));
  CHECK_FALSE(contains(light, "heavier"));
  const std::string heavy = because(2.660);
  INFO(heavy);
  CHECK(contains(heavy, "would have read about 3.080 g, yours read 2.660 g"));
  CHECK(contains(heavy, "A heavier core or filling"));
  CHECK_FALSE(contains(heavy, "lighter"));
}

// No outside source: the ruling that looks at every opposite.
TEST_CASE("a ruling told no more than it needs is the same ruling", "[claim]")
{
  std::map<ClaimResult, int> seen;
  int told_less = 0;
  for (const char* claim : {"999", "925", "800", "400", "9k", "14k", "22k", "platinum-950", "coin-silver"}) {
    for (const double of_typical : {0.7, 0.9, 0.98, 0.995, 1.0, 1.01, 1.03, 1.2}) {
      const Claim known = claim_called(built_in_tables(), claim);
      const double density = of_typical * typical(built_in_tables().materials[known.materials.front()].key);
      for (const double dry_g : {0.6, 4.0, 40.0}) {
        for (const Form form : {Form::solid, Form::hollow, Form::unsure}) {
          const Piece piece = claimed_piece(claim, density, dry_g, form, ScaleClass::jeweller);
          Analysis a = weigh_up(piece.weighing, 0.95);
          const Members& members = prepared().members(coat_volume_cm3(a, piece.weighing));
          hold_against(a, members, background_of(prepared(), members, piece.context), false);
          const ClaimRuling all = claim_ruling_of(built_in_tables(), a, piece, Opposites::all);
          const ClaimRuling as_needed = claim_ruling_of(built_in_tables(), a, piece, Opposites::as_needed);
          INFO(claim << " at " << density << ", " << dry_g << " g, " << name_of(form));
          REQUIRE(as_needed.result == all.result);
          ++seen[all.result];
          told_less += as_needed.not_refused.size() < all.not_refused.size() ? 1 : 0;
        }
      }
    }
  }
  CHECK(seen[ClaimResult::consistent] > 20);
  CHECK(seen[ClaimResult::inconsistent] > 20);
  CHECK(seen[ClaimResult::cannot_tell] > 20);
  CHECK(told_less > 20);
}

// Osmium, the heaviest metal, has 22.59 g/cm3 (CRC Handbook of Chemistry and Physics; from memory). A rise of the whole
// dry weight is that of a piece on the bottom of the cup (Archimedes' principle: the cup bears all of it).
TEST_CASE("readings that no piece of metal gives say nothing of a claim", "[claim]")
{
  for (const char* claim : {"925", "platinum-950", "silver-plate"}) {
    for (const auto& [dry_g, rise_g] : {std::pair{5.0, 0.02}, {8.0, 0.31}, {8.0, 0.35}, {5.0, 5.0}}) {
      Piece piece = claimed_piece(claim, 10.36, dry_g, Form::solid, ScaleClass::pocket);
      piece.weighing.readings.rise_g = {rise_g};
      const ClaimVerdict v = *verdict_of(prepared(), piece, {}).claim;
      INFO(claim << " " << dry_g << " " << rise_g << ": " << v.because);
      CHECK(v.result == ClaimResult::cannot_tell);
      CHECK(v.misread);
      CHECK(contains(v.because, "weigh it again"));
      CHECK(contains(v.would_settle, "another weighing"));
    }
  }
  CHECK_FALSE(claim_of("platinum-950", 21.4, 30.0).misread);
  CHECK_FALSE(claim_of("925", 3.0, 30.0).misread);  // thin hollow ware
}

// A coat of some micrometres on 40 g: no scale sees it, however fine.
TEST_CASE("a weighing is not called coarse where the claim is a coat", "[claim]")
{
  const ClaimVerdict v = claim_of("silver-plate", 10.34, 40.0);
  INFO(v.because);
  REQUIRE(v.result == ClaimResult::cannot_tell);
  CHECK_FALSE(contains(v.because, "coarse"));
  CHECK(contains(v.because, "no weight sees so thin a coat"));
  CHECK(contains(v.because, "sterling silver (925) is likelier"));
}

// Every piece with that metal outside counts, but for those that make the claim true and those that are listed as
// coated.
TEST_CASE("a look-alike is as probable as all pieces of its metal together", "[claim]")
{
  const Tables& t = built_in_tables();
  int coated = 0;
  int more_than_solid = 0;
  for (const auto& [claim, density, metal, place] : {std::tuple{"925", 10.15, "Ag", "tableware"},
                                                     {"925", 9.3, "Ag", "tableware"},
                                                     {"925", 10.1, "Ag", "relay"},
                                                     {"800", 10.0, "Ag", "contactor"},
                                                     {"18k", 15.0, "Au", "jewellery"}}) {
    Piece piece = claimed_piece(claim, density, 2.0, Form::solid, ScaleClass::pocket);
    piece.context.place = place;
    const Verdict v = verdict_of(prepared(), piece, {});
    const std::vector<double>& posterior = v.analysis.posterior;
    const Members& members = prepared().members_of_any_size();
    const auto is_listed = [&, held = metal](const Hypothesis& h) {  // Clang 14 captures no name of a binding
      const auto& parts = t.materials[h.outer_material].components;
      return h.kind == Kind::plated && std::any_of(parts.begin(), parts.end(), [&](const Component& c) {
               return t.constituents[c.constituent].key == held && c.fraction.typical > 0.5;
             });
    };
    for (const ClaimVerdict::LookAlike& one : v.claim->look_alikes) {
      double all = 0.0;
      double solid = 0.0;
      for (std::size_t i = 0; i < posterior.size(); ++i) {
        const Hypothesis& h = members[i]->hypothesis;
        if (h.kind == Kind::open_mix || t.materials[h.outer_material].key != one.key ||
            makes_true(v.claim->claim, members.traits(i))) {
          continue;
        }
        const bool counts =
            one.over.empty() ? !is_listed(h) : h.kind == Kind::plated && t.materials[h.inner_material].key == one.over;
        all += counts ? posterior[i] : 0.0;
        solid += h.kind == Kind::solid ? posterior[i] : 0.0;
      }
      INFO(claim << " " << density << " " << one.key << " over " << one.over);
      CHECK_THAT(one.probability, Catch::Matchers::WithinAbs(all, 1e-6));
      coated += one.over.empty() ? 0 : 1;
      more_than_solid += one.over.empty() && all > solid + 1e-4 ? 1 : 0;
    }
  }
  CHECK(coated > 0);
  CHECK(more_than_solid > 0);
}
