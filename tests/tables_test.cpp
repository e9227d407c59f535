#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <set>

#include <unistd.h>

#include "bilancetta/tables.hpp"
#include "material_check.hpp"
#include "support.hpp"
#include "table_reader.hpp"

using namespace bilancetta;
using namespace testing;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace
{

const Tables& tables()
{
  return built_in_tables();
}

double typical_density(const std::string& key)
{
  return typical_density_g_cm3(tables().materials[find_material(tables(), key)], tables().constituents);
}

// A directory with one table file, removed again.
class UserTables
{
 public:
  explicit UserTables(const std::string& text)
      : directory_(std::filesystem::temp_directory_path() /
                   ("bilancetta-tables-" + std::to_string(::getpid()) + "-" + std::to_string(counter()++)))
  {
    std::filesystem::create_directory(directory_);
    std::ofstream(directory_ / "mine.toml", std::ios::binary) << text;
  }
  ~UserTables() { std::filesystem::remove_all(directory_); }
  UserTables(const UserTables&) = delete;
  UserTables& operator=(const UserTables&) = delete;
  [[nodiscard]] const std::filesystem::path& directory() const { return directory_; }

 private:
  static int& counter()
  {
    static int count = 0;
    return count;
  }
  std::filesystem::path directory_;
};

// Ten lines: what a user has to write for a metal of his own.
const std::string ten_lines =
    "[[material]]\n"
    "key = \"my-bell-metal\"\n"
    "name = \"bell metal of my own\"\n"
    "group = \"bronze\"\n"
    "balance = \"Cu\"\n"
    "fractions.Cu = [0.76, 0.78, 0.80]\n"
    "fractions.Sn = [0.20, 0.22, 0.24]\n"
    "density = [8.5, 8.6, 8.7]\n"
    "found = { unknown = \"rare\" }\n"
    "provenance = \"no-source-yet\"\n";

const std::string facts =
    "[facts]\n"
    "notch_through_coat = 0.97\n"
    "reagent_works = 0.93\n"
    "reagent_works_if_checked = 0.995\n"
    "skin_clean = 0.96\n"
    "one_answer_for_a_metal = 0.5\n"
    "dead_reagent = { red = 0.1, green = 0.9 }\n"
    "dirty_skin_reagent = { red = 0.1, green = 0.9 }\n"
    "dirty_skin_colour = { white = 0.5, dark = 0.5 }\n";

const std::string open_mix = "[open-mix]\nconstituents = [\"Ag\", \"Cu\"]\nlog_ratio_sd = 2.0\nprior = 0.01\n";

const std::string ring =
    "[[test]]\n"
    "key = \"ring\"\n"
    "names = []\n"
    "site = \"piece\"\n"
    "property = \"build\"\n"
    "answers = [\"clear\", \"dull\"]\n"
    "step = \"Drop it on a stone and listen.\"\n"
    "effort = 1\n"
    "cautions = []\n"
    "[test.likelihood]\n"
    "solid = { clear = 0.5, dull = 0.5 }\n";

const std::string workshop =
    "[[place]]\n"
    "key = \"workshop\"\n"
    "names = []\n"
    "builds = { solid = 0.7, plated = 0.1, inlay = 0.1, other = 0.1 }\n"
    "common = [\"brass\", \"silver-copper\"]\n"
    "form = \"unsure\"\n"
    "hazards = [\"lead\"]\n";

// Seven fractions and the pores are free: as many as there may be.
const std::string sinter =
    "[[material]]\n"
    "key = \"sinter\"\n"
    "name = \"sinter of many metals\"\n"
    "group = \"silver-nickel\"\n"
    "balance = \"Ag\"\n"
    "fractions.Ag = [0.86, 0.86, 0.86]\n"
    "fractions.Ni = [0.01, 0.02, 0.03]\n"
    "fractions.Cu = [0.01, 0.02, 0.03]\n"
    "fractions.Zn = [0.01, 0.02, 0.03]\n"
    "fractions.Sn = [0.01, 0.02, 0.03]\n"
    "fractions.Fe = [0.01, 0.02, 0.03]\n"
    "fractions.Al = [0.01, 0.02, 0.03]\n"
    "fractions.Pb = [0.01, 0.02, 0.03]\n"
    "pores = [0.0, 0.02, 0.05]\n";

std::string cautions(int count)
{
  std::string text;
  for (int k = 0; k < count; ++k) {
    text += "[[caution]]\nkey = \"care-" + std::to_string(k) + "\"\nurgency = \"note\"\ntext = \"Take care.\"\n";
  }
  return text;
}

std::string with_line(const std::string& text, const std::string& old_line, const std::string& new_line)
{
  std::string changed = text;
  const std::size_t at = changed.find(old_line);
  REQUIRE(at != std::string::npos);
  changed.replace(at, old_line.size(), new_line);
  return changed;
}

Refusal refused(const std::string& text)
{
  const UserTables users(text);
  return refusal_of([&] { tables_with(users.directory()); });
}

// A table file, what its refusal says, and the line it names (0: any).
struct Bad {
  std::string text, says;
  int line;
};

void check_refused(const std::vector<Bad>& rows)
{
  for (const Bad& bad : rows) {
    INFO(bad.text);
    const Refusal r = refused(bad.text);
    INFO(r.message);
    CHECK(r.code == ErrorCode::bad_table);
    CHECK(contains(r.message, "mine.toml"));
    CHECK(contains(r.message, bad.says));
    if (bad.line > 0) {
      CHECK(contains(r.message, "mine.toml:" + std::to_string(bad.line) + ":"));
    }
  }
}

void check_accepted(const std::string& text)
{
  INFO(text);
  const UserTables users(text);
  CHECK_NOTHROW(tables_with(users.directory()));
}

template <typename Rows>
void check_origins(const Rows& rows)
{
  std::set<std::string> keys;
  for (const auto& row : rows) {
    INFO(row.origin.file << ":" << row.origin.line << ", row " << row.key);
    CHECK_FALSE(row.key.empty());
    CHECK(keys.insert(row.key).second);
    CHECK_FALSE(row.origin.file.empty());
    CHECK(row.origin.line > 0);
    const bool known = std::any_of(tables().sources.begin(), tables().sources.end(),
                                   [&](const Source& s) { return s.key == row.origin.source; });
    CHECK((known || row.origin.source.empty()));
    // What is said to have been looked up must name where.
    CHECK((row.origin.provenance != Provenance::looked_up || known));
  }
}

}  // namespace

TEST_CASE("the built-in tables read and hold what a salvager meets", "[tables]")
{
  CHECK(tables().constituents.size() >= 40);
  CHECK(tables().materials.size() >= 60);
  for (const char* key : {"fine-silver", "sterling", "coin-silver", "ag-cdo-10", "ag-sno2-10", "ag-ni-10", "ag-w-65",
                          "tungsten", "c11000", "c26000", "c75200"}) {
    INFO(key);
    CHECK(find_material(tables(), key) >= 0);
  }
  for (const char* place : {"breaker", "contactor", "relay", "switch", "connector", "thermostat", "motor", "starter",
                            "brush", "board", "thermocouple", "tableware", "jewellery", "coins", "dental", "unknown"}) {
    INFO(place);
    CHECK(place_called(tables(), place).key == place);
  }
  CHECK(tables().checksum.size() == 16);
}

TEST_CASE("every row has its own key, a place in a file, and a known source", "[tables]")
{
  check_origins(tables().constituents);
  check_origins(tables().materials);
  check_origins(tables().builds);
  check_origins(tables().places);
  check_origins(tables().tests);
  check_origins(tables().claims);
  check_origins(tables().cautions);
}

TEST_CASE("every material is a composition that can be evaluated", "[tables]")
{
  for (const Material& m : tables().materials) {
    INFO(m.key);
    double sum = 0.0;
    for (const Component& c : m.components) {
      sum += c.fraction.typical;
      CHECK(c.fraction.low >= 0.0);
      CHECK(c.fraction.high <= 1.0);
    }
    CHECK_THAT(sum, WithinAbs(1.0, 1e-5));
    CHECK_FALSE((m.porous && m.measured));
    CHECK(m.scatter >= 0.002);
    const double typical = typical_density_g_cm3(m, tables().constituents);
    CHECK(typical > 0.5);
    CHECK(typical < 23.0);
    if (m.measured) {
      CHECK_THAT(typical, WithinRel(m.density.typical, 1e-9));
    }
  }
}

TEST_CASE("constituents say how sure they are and match their printed number", "[tables]")
{
  for (const Constituent& c : tables().constituents) {
    INFO(c.key);
    CHECK(c.standard_uncertainty > 0.0);
    CHECK(c.standard_uncertainty < 0.25 * c.density_g_cm3);
    if (!c.printed.empty()) {
      CHECK_THAT(c.density_g_cm3, WithinRel(std::stod(c.printed), 0.005));
    }
  }
}

// Four collections (packages and a handbook, see the file); entries named in known_bad are off and told why.
TEST_CASE("elements agree with four collections within 1 %", "[tables]")
{
  int compared = 0;
  for (const Row& row : published("elements.csv")) {
    const int index = find_constituent(tables(), row.text("symbol"));
    INFO(row.all());
    REQUIRE(index >= 0);
    for (const char* collection : {"periodictable", "gnu_units", "xraydb", "asm61"}) {
      if (row.text(collection).empty() || contains(row.text("known_bad"), collection)) {
        continue;
      }
      INFO(collection);
      CHECK_THAT(row.number(collection), WithinRel(tables().constituents[index].density_g_cm3, 0.01));
      ++compared;
    }
  }
  CHECK(compared > 100);
}

// Handbooks, measured series and makers' tables; each row names its source and the reason of its tolerance.
TEST_CASE("alloys have the density that handbooks print", "[tables]")
{
  int compared = 0;
  for (const Row& row : published("alloys.csv")) {
    const std::string& key = row.text("material_key");
    if (key.empty()) {
      continue;
    }
    INFO(row.all());
    REQUIRE(find_material(tables(), key) >= 0);
    CHECK_THAT(typical_density(key), WithinRel(row.number("density_g_cm3"), 0.01 * row.number("tolerance_percent")));
    ++compared;
  }
  CHECK(compared > 60);
}

// ASTM B777-15, table 1: limits of acceptance.
TEST_CASE("heavy alloys lie within the limits of their class", "[tables]")
{
  for (const Row& row : published("heavy_alloy_b777.csv")) {
    INFO(row.all());
    REQUIRE(find_material(tables(), row.text("material_key")) >= 0);
    CHECK(typical_density(row.text("material_key")) >= row.number("density_low"));
    CHECK(typical_density(row.text("material_key")) <= row.number("density_high"));
  }
}

// A trade table and a forum (see the file): only the right region, 1.5 % around the range.
TEST_CASE("karat golds lie in the region printed for them", "[tables]")
{
  for (const Row& row : published("karat_ranges.csv")) {
    const std::string& key = row.text("material_key");
    if (key.empty()) {
      continue;
    }
    INFO(row.all());
    REQUIRE(find_material(tables(), key) >= 0);
    CHECK(typical_density(key) >= 0.985 * row.number("density_low"));
    CHECK(typical_density(key) <= 1.015 * row.number("density_high"));
    const Material& m = tables().materials[find_material(tables(), key)];
    for (const Component& c : m.components) {
      if (tables().constituents[c.constituent].key == "Au") {
        CHECK_THAT(c.fraction.typical, WithinAbs(row.number("gold_mass_fraction"), 0.01));
      }
    }
  }
}

TEST_CASE("specific volumes add in an ideal mixture", "[tables]")
{
  std::vector<Constituent> two(2);
  two[0].density_g_cm3 = 10.0;
  two[1].density_g_cm3 = 5.0;
  Material m;
  m.components = {{0, {0.5, 0.5, 0.5}}, {1, {0.5, 0.5, 0.5}}};
  CHECK_THAT(ideal_density_g_cm3(m, two), WithinRel(1.0 / (0.5 / 10.0 + 0.5 / 5.0), 1e-12));
  m.porous = true;
  m.pores = {0.05, 0.1, 0.2};
  CHECK_THAT(typical_density_g_cm3(m, two), WithinRel(0.9 / 0.15, 1e-12));
  CHECK(free_quantities(m) == 1);
}

TEST_CASE("names are found in any usual spelling, and misses name what is near", "[tables]")
{
  CHECK(place_called(tables(), "Breakers").key == "breaker");
  CHECK(place_called(tables(), "circuit_breaker").key == "breaker");
  CHECK(place_called(tables(), "JEWELRY").key == "jewellery");
  CHECK(material_called(tables(), "Fine Silver").key == "fine-silver");
  CHECK(material_called(tables(), "fine_silver ").key == "fine-silver");
  CHECK(test_called(tables(), "skin_reagent").key == "skin-reagent");
  CHECK(claim_called(tables(), "925").key == claim_called(tables(), "sterling").key);
  // As stamped, as typed, and as spreadsheets leave it.
  CHECK(claim_called(tables(), "0925").key == "sterling");
  CHECK(claim_called(tables(), "0.925").key == "sterling");
  CHECK(claim_called(tables(), "00800").key == "silver-800");
  for (const char* mark : {"14 K", "14 k", "14-kt", "14  KT", "14 ct", "14k"}) {
    CHECK(claim_called(tables(), mark).key == "gold-585");
  }
  const Refusal rewritten = refusal_of([] { claim_called(tables(), "9.25E+02"); });
  CHECK(rewritten.field == "claim");
  CHECK(contains(rewritten.message, "\"9.25E+02\" is a number as a spreadsheet rewrites it; write 925, in a column"));
  for (const char* mark : {"0", "000", "", ".", "14 m", "k", " k", "0926"}) {
    CHECK(refusal_of([&] { claim_called(tables(), mark); }).code == ErrorCode::unknown_key);
  }
  // Any material key is a claim.
  CHECK(claim_called(tables(), "ag-cdo-10").materials == std::vector<int>{find_material(tables(), "ag-cdo-10")});

  const Refusal material = refusal_of([] { material_called(tables(), "sterlin"); });
  CHECK(material.code == ErrorCode::unknown_key);
  CHECK(contains(material.message, "\"sterlin\""));
  CHECK(contains(material.message, "sterling"));
  CHECK(refusal_of([] { place_called(tables(), "moon"); }).code == ErrorCode::unknown_key);
  CHECK(refusal_of([] { test_called(tables(), "magnt"); }).code == ErrorCode::unknown_key);
  CHECK(contains(refusal_of([] { test_called(tables(), "magnt"); }).message, "magnet"));
  CHECK(refusal_of([] { claim_called(tables(), "unobtainium"); }).code == ErrorCode::unknown_key);
  CHECK(find_material(tables(), "unobtainium") == -1);
  CHECK(find_constituent(tables(), "Zz") == -1);
}

TEST_CASE("a user's material of ten lines is read, found and cited", "[tables]")
{
  const UserTables users(ten_lines);
  const Tables mine = tables_with(users.directory());
  CHECK(mine.materials.size() == tables().materials.size() + 1);
  CHECK(mine.checksum != tables().checksum);
  const Material& m = material_called(mine, "my bell metal");
  CHECK_THAT(typical_density_g_cm3(m, mine.constituents), WithinRel(8.6, 1e-9));
  CHECK(contains(m.origin.file, "mine.toml"));
  CHECK(m.origin.line == 1);
  CHECK(m.origin.provenance == Provenance::no_source_yet);
}

TEST_CASE("a user's row with a known key stands in place of the built-in one", "[tables]")
{
  const UserTables users(with_line(ten_lines, "my-bell-metal", "sterling"));
  const Tables mine = tables_with(users.directory());
  CHECK(mine.materials.size() == tables().materials.size());
  CHECK(find_material(mine, "sterling") == find_material(tables(), "sterling"));
  CHECK_THAT(typical_density_g_cm3(material_called(mine, "sterling"), mine.constituents), WithinRel(8.6, 1e-9));
}

TEST_CASE("a user's constituent with a source of his own is used", "[tables]")
{
  const UserTables users(
      "[[source]]\nkey = \"my-book\"\ntitle = \"a book of mine\"\n"
      "[[constituent]]\nkey = \"Xx\"\nname = \"something\"\ndensity = 5.0\nstandard_uncertainty = 0.1\n"
      "printed = \"5.00\"\nsource = \"my-book\"\nprovenance = \"looked-up\"\n");
  const Tables mine = tables_with(users.directory());
  REQUIRE(find_constituent(mine, "Xx") >= 0);
  CHECK(mine.constituents[find_constituent(mine, "Xx")].origin.source == "my-book");
}

TEST_CASE("every kind of bad row is refused with file, line and field", "[tables]")
{
  check_refused({
      {with_line(ten_lines, "provenance = \"no-source-yet\"", "source = \"no-such-book\""), "no-such-book", 1},
      {with_line(ten_lines, "density = ", "pores = [0.0, 0.01, 0.02]\ndensity = "), "pores", 8},
      {with_line(ten_lines, "0.76, 0.78, 0.80", "0.70, 0.72, 0.80"), "fractions", 6},
      {with_line(ten_lines, "0.20, 0.22, 0.24", "0.23, 0.22, 0.24"), "Sn", 7},
      {with_line(ten_lines, "[8.5, 8.6, 8.7]", "[8.5, 8.6]"), "density", 8},
      {with_line(ten_lines, "[8.5, 8.6, 8.7]", "\"8.6\""), "density", 8},
      {with_line(ten_lines, "[8.5, 8.6, 8.7]", "[8.5, nan, 8.7]"), "density", 8},
      {with_line(ten_lines, "[8.5, 8.6, 8.7]", "[18.5, 18.6, 18.7]"), "density", 1},
      {with_line(ten_lines, "group = ", "grup = "), "grup", 4},
      {with_line(ten_lines, "group = \"bronze\"\n", ""), "group", 1},
      {with_line(ten_lines, "key = \"my-bell-metal\"\n", ""), "key", 1},
      {with_line(ten_lines, "fractions.Sn", "fractions.Qq"), "Qq", 6},
      {with_line(ten_lines, "balance = \"Cu\"", "balance = \"Zn\""), "balance", 5},
      {with_line(ten_lines, "unknown = \"rare\"", "moon = \"rare\""), "moon", 1},
      {with_line(ten_lines, "\"rare\"", "\"seldom\""), "seldom", 9},
      {with_line(ten_lines, "no-source-yet", "hearsay"), "hearsay", 10},
      {with_line(ten_lines, "provenance", "cautions = [\"dragons\"]\nprovenance"), "dragons", 1},
      {with_line(ten_lines, "provenance", "scatter = 0.00001\nprovenance"), "scatter", 10},
      {with_line(ten_lines, "provenance", "conductivity_iacs = [10, 9, 11]\nprovenance"), "conductivity_iacs", 10},
      {ten_lines + ten_lines, "my-bell-metal", 12},
      {with_line(ten_lines, "group = \"bronze\"", "group = bronze"), "TOML", 4},
      {with_line(ten_lines, "[[material]]", "[material]"), "[[material]]", 1},
      {"[[constituent]]\nkey = \"Xx\"\nname = \"x\"\ndensity = 230.0\nstandard_uncertainty = 0.1\n", "density", 4},
      {"[[constituent]]\nkey = \"Xx\"\nname = \"x\"\ndensity = 5.0\nstandard_uncertainty = 0.1\nprinted = \"7.00\"\n",
       "printed", 1},
      {"[[plated]]\nkey = \"p\"\ncoats = [\"no-such-coat\"]\ncores = [\"c11000\"]\nthickness_um = [1, 5, 20]\n",
       "no-such-coat", 3},
      {"[[inlay]]\nkey = \"i\"\nfaces = [\"fine-silver\"]\ncarriers = [\"c11000\"]\nshare = [0.1, 0.5, 1.5]\n", "share",
       5},
      {"[[departure]]\nkey = \"d\"\nname = \"d\"\nconstituents = [\"Cu\"]\nsolutes = [\"Sn\"]\nknots = [[0.1, 0]]\n",
       "knots", 6},
      {"[[claim]]\nkey = \"c\"\nname = \"c\"\n", "materials", 1},
      {"[[place]]\nkey = \"x\"\nbuilds = { solid = 1.2, plated = -0.2, inlay = 0.0, other = 0.0 }\n", "plated is -0.2",
       3},
      {with_line(facts, "0.97", "1.03"), "notch_through_coat", 2},
      {with_line(facts, "0.995", "-0.5"), "reagent_works_if_checked", 4},
      {with_line(facts, "white = 0.5, dark = 0.5", "white = 0.5, dark = 0.4"), "dirty_skin_colour", 9},
      {with_line(facts, "red = 0.1, green = 0.9", "red = 0.0, green = 1.0"), "dead_reagent", 7},
      {facts, "no chance is given for \"grey\" of skin-colour", 1},
      {"[open-mix]\nconstituents = [\"Ag\", \"Cu\"]\nlog_ratio_sd = 0.0\nprior = 0.01\n", "log_ratio_sd", 3},
      {"[open-mix]\nconstituents = [\"Ag\", \"Cu\"]\nlog_ratio_sd = 2.0\nprior = 7\n", "prior", 4},
      {open_mix + "source = \"nosuch\"\n", "row \"open-mix\": source \"nosuch\" is not in the tables", 1},
      {open_mix + "provenance = \"nonsense\"\n", "provenance: \"nonsense\"", 5},
      {facts + "source = \"nosuch\"\n", "row \"facts\": source \"nosuch\" is not in the tables", 1},
      {facts + "provenance = \"nonsense\"\n", "provenance: \"nonsense\"", 10},
  });
}

TEST_CASE("a bench test that could never be answered is refused", "[tables]")
{
  check_refused({{ring, "\"ring\"", 2},
                 {ring, "magnet", 2},
                 // A column, but of no test; a known test in another spelling.
                 {with_line(ring, "\"ring\"", "\"dry-g\""), "dry-g", 2},
                 {with_line(ring, "\"ring\"", "\"Magnet\""), "Magnet", 2}});
  check_accepted(with_line(ring, "\"ring\"", "\"sides\""));
}

TEST_CASE("sites, efforts and cautions of a bench test are checked", "[tables]")
{
  const std::string file = with_line(ring, "\"ring\"", "\"file\"");
  check_refused({{with_line(file, "effort = 1", "effort = -1"), "effort: -1 is not a whole number from 1 to 8", 8},
                 {with_line(file, "effort = 1", "effort = 0"), "effort: 0", 8},
                 {with_line(file, "effort = 1", "effort = 9"), "effort: 9", 8},
                 {with_line(file, "effort = 1", "effort = 1.5"), "effort: 1.5", 8},
                 {with_line(file, "effort = 1", "effort = 1e99"), "effort: 1e+99", 8},
                 {with_line(file, "\"piece\"", "\"rim\""), "site: \"rim\" is not one of skin, notch, back, piece", 4},
                 {with_line(file, "cautions = []", "cautions = [\"acids\"]"), "cautions: \"acids\"", 9},
                 {with_line(file, "\"build\"", "\"built\""), "property: \"built\" is not one of magnet, skin, ", 5},
                 {with_line(file, "effort = 1", "relative_sd = -1"), "relative_sd: -1 is no chance", 8},
                 {with_line(file, "solid = ", "sold = "), "likelihood of \"sold\"", 1}});
  for (const char* effort : {"1", "6"}) {
    check_accepted(with_line(file, "effort = 1", std::string("effort = ") + effort));
  }
}

TEST_CASE("families, hazards and form of a place are checked", "[tables]")
{
  check_refused(
      {{workshop + "rare = [\"silver-copper\"]\n", "rare: \"silver-copper\" stands twice", 8},
       {workshop + "shape_factor = [0, 8, 20]\n", "shape_factor: 0 is below 4.83", 8},
       {with_line(workshop, "solid = ", "sold = "), "builds: \"sold\" is not one of solid, plated, inlay, other", 4},
       {with_line(workshop, "silver-copper", "silver-coper"), "common: \"silver-coper\"", 5},
       {with_line(workshop, "silver-copper", "silver-coper"), "the nearest are silver-copper, ", 5},
       {workshop + "rare = [\"bras\"]\n", "rare: \"bras\"", 8},
       {with_line(workshop, "\"lead\"", "\"lead-dust\""), "hazards: \"lead-dust\"", 7},
       {with_line(workshop, "\"unsure\"", "\"sold\""), "form: \"sold\" is not one of solid, hollow, filled, unsure",
        6}});
  for (const char* form : {"solid", "hollow", "filled", "unsure"}) {
    check_accepted(with_line(workshop, "unsure", form));
  }
}

TEST_CASE("places and materials of a build are checked", "[tables]")
{
  const std::string plated =
      "[[plated]]\nkey = \"p\"\ncoats = [\"rhodium\"]\ncores = [\"lead\"]\nthickness_um = [1, 5, 20]\n"
      "found = { relay = \"common\" }\n";
  check_accepted(plated);
  check_refused({{with_line(plated, "relay", "relai"), "found: place \"relai\"", 1},
                 {with_line(plated, "relay", "relai"), "the nearest are relay, ", 1},
                 {with_line(plated, "\"lead\"", "\"lead\", \"lead\""), "cores: \"lead\" stands twice", 4},
                 {"[open-mix]\nconstituents = [\"Ag\", \"Ag\"]\nlog_ratio_sd = 2.0\nprior = 0.01\n",
                  "constituents: \"Ag\" stands twice", 2}});
}

TEST_CASE("a pair that stands in two rows of a kind is refused, since it would count twice", "[tables]")
{
  const std::string inlay =
      "[[inlay]]\nkey = \"i\"\nfaces = [\"lead\", \"fine-silver\"]\ncarriers = [\"c11000\"]\nshare = [0.1, 0.3, 0.7]\n";
  const std::string hollow = "[[hollow]]\nkey = \"h\"\nmaterials = [\"sterling\"]\nvoid = [0.1, 0.2, 0.3]\n";
  const std::string plated =
      "[[plated]]\nkey = \"p\"\ncoats = [\"lead\"]\ncores = [\"c26000\", \"c11000\"]\nthickness_um = [1, 5, 20]\n";
  check_refused({{inlay, "\"i\"", 1},
                 {inlay, "fine-silver with c11000 stands in \"silver-on-copper-alloy\" already", 1},
                 {hollow, "sterling stands in \"hollow-silver-ware\" already", 1},
                 {plated + with_line(plated, "\"p\"", "\"q\""), "lead with c26000 stands in \"p\" already", 6}});
  // Plated is another kind than inlaid, and faced on both sides another than on one.
  const std::string faced = with_line(inlay, "\"lead\", \"fine-silver\"", "\"lead\"");
  check_accepted(plated + faced + with_line(faced, "\"i\"", "\"j\"") + "both_faces = true\n");
  check_accepted(with_line(hollow, "\"h\"", "\"hollow-silver-ware\""));
}

TEST_CASE("a material whose family a finding place does not name is refused", "[tables]")
{
  const std::string in_workshop = with_line(ten_lines, "unknown", "workshop");
  check_refused({{with_line(ten_lines, "unknown", "dental"),
                  "found at dental, whose [[place]] row does not name the family \"bronze\"", 1},
                 {in_workshop + workshop, "found at workshop", 1}});
  check_accepted(in_workshop + with_line(workshop, "\"silver-copper\"", "\"bronze\""));
}

TEST_CASE("a piece with more free quantities than are handled is refused however it is built", "[tables]")
{
  const std::string hollow = "[[hollow]]\nkey = \"h\"\nmaterials = [\"sinter\"]\nvoid = [0.1, 0.2, 0.3]\n";
  const std::string joined =
      "[[joined]]\nkey = \"j\"\nparts = [\"sinter\"]\nothers = [\"rhodium\"]\nshare = [0.1, 0.2, 0.3]\n";
  const std::string plated =
      "[[plated]]\nkey = \"p\"\ncoats = [\"sinter\"]\ncores = [\"rhodium\"]\nthickness_um = [5, 5, 5]\n";
  check_accepted(sinter);
  check_refused({{with_line(sinter, "0.86, 0.86, 0.86]\n", "0.84, 0.84, 0.84]\nfractions.Mn = [0.01, 0.02, 0.03]\n"),
                  "more than 8", 1},
                 {sinter + hollow, "9 free quantities", 15},
                 {sinter + hollow, "at most 8", 15},
                 {sinter + joined, "9 free quantities", 15},
                 {sinter + plated, "9 free quantities", 15}});
  // What is fixed is not free.
  check_accepted(sinter + with_line(hollow, "0.1, 0.2, 0.3", "0.2, 0.2, 0.2"));
}

TEST_CASE("more cautions than there are bits for are refused", "[tables]")
{
  const int more = 32 - static_cast<int>(tables().cautions.size());
  check_accepted(cautions(more));
  check_refused({{cautions(more + 1), "33 cautions", 4 * more + 1}, {cautions(more + 1), "at most 32", 4 * more + 1}});
}

TEST_CASE("kinds of rows and fields of single tables that do not exist are refused", "[tables]")
{
  const std::string mix = "[open-mix]\nconstituents = [\"Ag\", \"Cu\"]\nlog_ratio_sd = 2.0\nprior = 0.01\n";
  std::string whole_facts =
      with_line(facts, "white = 0.5, dark = 0.5", "white = 0.2, grey = 0.2, dark = 0.2, copper = 0.2, yellow = 0.2");
  for (int k = 0; k < 2; ++k) {
    whole_facts = with_line(whole_facts, "red = 0.1, green = 0.9",
                            "bright-red = 0.1, dark-red = 0.1, red = 0.1, brown = 0.1, green = 0.1, blue = 0.1, yellow "
                            "= 0.1, black = 0.1, grey = 0.1, no-reaction = 0.1");
  }
  check_refused(
      {{with_line(ten_lines, "[[material]]", "[[materials]]"), "materials", 1},
       {with_line(ten_lines, "[[material]]", "[[materials]]"), "the nearest are material, ", 1},
       {"\n[[plating]]\nkey = \"p\"\n", "the nearest are plated, ", 2},
       {with_line(mix, "open-mix", "open_mix"), "the nearest are open-mix, ", 1},
       {with_line(ten_lines, "[[material]]\n", ""), "balance: this line stands in no row", 4},
       {mix + "log_ratio = 2.0\n", "log_ratio: no such field", 5},
       {with_line(whole_facts, "skin_clean", "skin_cleen = 0.9\nskin_clean"), "skin_cleen: no such field", 5}});
  check_accepted(whole_facts);
  check_accepted(mix +
                 "source = \"\"\nwhere = \"\"\nprovenance = \"common-practice\"\nnote = \"\"\nreason = \"mine\"\n");
}

TEST_CASE("other values that would be used unseen are refused", "[tables]")
{
  const std::string process =
      "[[process]]\nkey = \"wrought\"\nname = \"w\"\npores = [0.0, 0.01, 0.03]\nscatter = 0.004\nrows = 1\n";
  const std::string claim =
      "[[claim]]\nkey = \"c\"\nname = \"c\"\nmaterials = [\"sterling\"]\nplated_with = \"fine-silver\"\n";
  check_accepted(process + claim);
  check_refused({{with_line(process, "0.004", "-0.1"), "scatter: -0.1 is outside 0.002 to 0.1", 5},
                 {with_line(process, "0.004", "0.2"), "scatter: 0.2 is outside 0.002 to 0.1", 5},
                 {with_line(process, "rows = 1", "rows = 1e99"), "rows", 6},
                 {with_line(claim, "fine-silver", "no-such"), "plated_with: \"no-such\"", 5},
                 {with_line(claim, "\"fine-silver\"", "[\"fine-silver\", \"no-such\"]"), "plated_with: \"no-such\"", 5},
                 {with_line(claim, "\"fine-silver\"", "3"), "plated_with: a list of texts", 5},
                 {with_line(claim, "fine-silver", "fine-silvr"), "the nearest are fine-silver", 5},
                 {cautions(1) + "counts_from = 2\n", "counts_from: 2 is no chance", 5},
                 {with_line(cautions(1), "note", "sotp"), "urgency: \"sotp\" is not one of stop, care, note", 3}});
}

// Density, numbers as printed and pores of one metal must agree, or the row says why in its note.
TEST_CASE("a row that contradicts the mixing model or its own printed number needs a note", "[tables]")
{
  const std::string heavy = with_line(ten_lines, "[8.5, 8.6, 8.7]", "[9.2, 9.3, 9.35]");
  CHECK(contains(refused(heavy).message, "say why in note"));
  const std::string other = with_line(ten_lines, "provenance", "measured = \"8.6; 9.9\"\nprovenance");
  CHECK(contains(refused(other).message, "\"8.6; 9.9\" does not agree"));
  CHECK(contains(refused(with_line(ten_lines, "provenance", "measured = \"heavy\"\nprovenance")).message, "no number"));
  const UserTables noted(with_line(other, "provenance", "note = \"two castings\"\nprovenance"));
  CHECK_NOTHROW(tables_with(noted.directory()));
  CHECK(printed_numbers("7.8309; 8.17 (Cu 95 Al 5); 12.9 to 13.3; 8.05-8.1") ==
        std::vector<double>{7.8309, 8.17, 12.9, 13.3, 8.05, 8.1});
}

TEST_CASE("the same piece under another key is refused", "[tables]")
{
  const Refusal r = refused(ten_lines + with_line(ten_lines, "my-bell-metal", "my-other-bell"));
  CHECK(r.code == ErrorCode::bad_table);
  CHECK(contains(r.message, "mine.toml:11"));
  CHECK(contains(r.message, "the same piece as \"my-bell-metal\""));
}

TEST_CASE("a melted row without a measured density takes departure and scatter from its system", "[tables]")
{
  const UserTables users(with_line(ten_lines, "density = [8.5, 8.6, 8.7]\n", ""));
  const Tables mine = tables_with(users.directory());
  const Material& m = material_called(mine, "my-bell-metal");
  CHECK(m.system == "Cu-Sn");
  CHECK(m.departure.typical == departure_of(mine.departures, m.components));
  CHECK(m.departure.typical > 0.03);
  CHECK(m.departure.typical < 0.06);
  CHECK(m.scatter > 0.002);
  // A measured density is kept as it is.
  const Material& measured = material_called(tables(), "c11000");
  CHECK(measured.system.empty());
  CHECK(measured.scatter == 0.002);
  // But a wide range of it is scatter: 1.16 % either side, 1.96 standard deviations of 0.59 %, of which tin (2 %, at a
  // ninth of a per cent each) explains 0.22 %.
  const UserTables wide(ten_lines);
  CHECK_THAT(material_called(tables_with(wide.directory()), "my-bell-metal").scatter, WithinAbs(0.0055, 1e-9));
}

TEST_CASE("departures are piecewise linear, 0 for the pure metal, and stop at their last knot", "[tables]")
{
  Departure d;
  d.constituents = {0, 1};
  d.solutes = {1};
  d.others = 0.02;
  d.knots = {{0.0, 0.0}, {0.1, 0.01}, {0.3, 0.05}};
  const auto mix = [](double first, double second, double third) {
    return std::vector<Component>{
        {0, {first, first, first}}, {1, {second, second, second}}, {2, {third, third, third}}};
  };
  CHECK(departure_at(d, 0.0) == 0.0);
  CHECK_THAT(departure_at(d, 0.05), WithinRel(0.005, 1e-12));
  CHECK_THAT(departure_of({d}, mix(0.79, 0.2, 0.01)), WithinRel(0.03, 1e-12));
  CHECK(system_of({d}, mix(0.6, 0.4, 0.0)) == nullptr);      // beyond the last knot
  CHECK(system_of({d}, mix(0.77, 0.2, 0.03)) == nullptr);    // too much of something else
  CHECK(system_of({d}, mix(0.995, 0.005, 0.0)) == nullptr);  // a trace makes no system
  CHECK(departure_of({}, mix(0.8, 0.2, 0.0)) == 0.0);
}

TEST_CASE("a process supplies the pores of a row that has none", "[tables]")
{
  const std::string sintered = with_line(ten_lines, "density = [8.5, 8.6, 8.7]", "process = \"wrought\"");
  const UserTables users(sintered);
  const Tables mine = tables_with(users.directory());
  const Material& m = material_called(mine, "my-bell-metal");
  CHECK(m.porous);
  CHECK(m.pores.low == 0.0);
  CHECK(m.pores.typical > 0.0);
  CHECK(m.departure.typical == 0.0);
  CHECK(contains(refused(with_line(sintered, "wrought", "wrougt")).message, "wrought"));
  CHECK(tables().processes.size() == 4);
}

TEST_CASE("a directory without tables is refused by name", "[tables]")
{
  const Refusal missing = refusal_of([] { tables_with("/no/such/directory"); });
  CHECK(missing.code == ErrorCode::cannot_open);
  CHECK(contains(missing.message, "/no/such/directory"));
  const UserTables users("");
  std::filesystem::remove(users.directory() / "mine.toml");
  CHECK(refusal_of([&] { tables_with(users.directory()); }).code == ErrorCode::cannot_open);
  std::filesystem::create_symlink("loop.toml", users.directory() / "loop.toml");
  const Refusal loop = refusal_of([&] { tables_with(users.directory()); });
  CHECK(loop.code == ErrorCode::cannot_open);
  CHECK(contains(loop.message, "loop.toml: cannot be read"));
}

TEST_CASE("every likelihood table of a test is a distribution without zeros", "[tables]")
{
  for (const BenchTest& test : tables().tests) {
    for (const AnswerTable* table : {&test.likelihood, &test.likelihood_nitric}) {
      for (const auto& [word, answers] : *table) {
        INFO(test.key << ", " << word);
        double sum = 0.0;
        for (const auto& [answer, p] : answers) {
          CHECK(p > 0.0);
          CHECK(p < 1.0);
          sum += p;
        }
        CHECK_THAT(sum, WithinAbs(1.0, 1e-4));
      }
    }
  }
  for (const auto* answers :
       {&tables().facts.dead_reagent, &tables().facts.dirty_skin_reagent, &tables().facts.dirty_skin_colour}) {
    double sum = 0.0;
    for (const auto& [answer, p] : *answers) {
      CHECK(p > 0.0);
      sum += p;
    }
    CHECK_THAT(sum, WithinAbs(1.0, 1e-4));
  }
}

TEST_CASE("no marks are made unasked on what is worn, collected or eaten with", "[tables]")
{
  for (const char* place : {"tableware", "jewellery", "coins"}) {
    CHECK_FALSE(place_called(tables(), place).marks);
  }
  CHECK(place_called(tables(), "breaker").marks);
}

TEST_CASE("the builds of every place are a distribution", "[tables]")
{
  for (const Place& place : tables().places) {
    INFO(place.key);
    double sum = 0.0;
    for (const double p : place.builds) {
      CHECK(p >= 0.0);
      sum += p;
    }
    CHECK_THAT(sum, WithinAbs(1.0, 1e-6));
  }
}

TEST_CASE("the families of every place are groups of materials", "[tables]")
{
  std::set<std::string> groups;
  for (const Material& material : tables().materials) {
    groups.insert(material.group);
  }
  for (const Place& place : tables().places) {
    for (const auto& [family, commonness] : place.families) {
      INFO(place.key << " " << family);
      CHECK(groups.count(family) == 1);
    }
  }
}

// A row that says it is found at a place counts there only as far as the place names its family.
TEST_CASE("every family that is found at a place is named there", "[tables]")
{
  const Tables& t = built_in_tables();
  const auto named = [&](const std::string& place, const Material& m) {
    INFO(place << ": " << m.key << ", " << m.group);
    CHECK(place_called(t, place).families.contains(m.group));
  };
  for (const Material& m : t.materials) {
    for (const auto& [place, commonness] : m.found) {
      named(place, m);
    }
  }
}

// Hardened amalgam is Ag2Hg3, Cu6Sn5, Ag3Sn and silver left over: 13.4, 8.3, 9.9 and 10.49 g/cm3 (the compounds by
// their cells, from memory), whose parts by mass follow from the row's Hg, Cu and Sn; sound fillings are 11.0 to 11.6
// (from memory).
TEST_CASE("amalgam weighs as its compounds do and not as its metals mixed", "[tables]")
{
  const Material& amalgam = tables().materials[find_material(tables(), "dental-amalgam")];
  const auto part = [&](const char* key) {
    const auto match = std::find_if(amalgam.components.begin(), amalgam.components.end(), [&](const Component& c) {
      return tables().constituents[c.constituent].key == key;
    });
    return match->fraction.typical;
  };
  const double ag2hg3 = part("Hg") * (1.0 + 2.0 * 107.87 / (3.0 * 200.59));
  const double cu6sn5 = part("Cu") * (1.0 + 5.0 * 118.71 / (6.0 * 63.55));
  const double ag3sn = (part("Cu") + part("Sn") - cu6sn5) * (1.0 + 3.0 * 107.87 / 118.71);
  const double silver = 1.0 - ag2hg3 - cu6sn5 - ag3sn;
  REQUIRE(silver > 0.0);
  const double typical = typical_density("dental-amalgam");
  CHECK_THAT(typical, WithinRel(1.0 / (ag2hg3 / 13.4 + cu6sn5 / 8.3 + ag3sn / 9.9 + silver / 10.49), 0.015));
  CHECK(typical * (1.0 - 2.0 * amalgam.scatter) < 11.0);
  CHECK(typical * (1.0 + 2.0 * amalgam.scatter) > 11.6);
}
