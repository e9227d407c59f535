#pragma once

#include <array>
#include <filesystem>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "bilancetta/departure.hpp"
#include "bilancetta/material.hpp"

namespace bilancetta
{

/// Constituents that a piece is bought for, in the order in which they are told of: silver first.
inline constexpr std::array<const char*, 4> precious_metals = {"Ag", "Au", "Pd", "Pt"};

/// How a piece is made up. `other` holds hollow or filled pieces and the open mix.
enum class Build { solid, plated, inlay, other };
inline constexpr std::array<Build, 4> all_builds = {Build::solid, Build::plated, Build::inlay, Build::other};
std::string_view name_of(Build build);

/// What is known of the inside of a piece. Of hollow and filled ware the weight says little of its metal.
enum class Form { solid, hollow, filled, unsure };
inline constexpr std::array<Form, 4> all_forms = {Form::solid, Form::hollow, Form::filled, Form::unsure};
std::string_view name_of(Form form);

/// A pairing of outer materials (coats, faces) with inner ones (cores, carriers), or hollow materials.
struct BuildRow {
  std::string key;
  Build build = Build::plated;
  std::vector<int> outer;  ///< material indices: coats, faces, first parts, or the hollow materials
  std::vector<int> inner;  ///< cores, carriers or second parts; empty when hollow
  Range amount;            ///< coat thickness in um; share of face or first part by volume; void by volume
  std::map<std::string, Commonness> found;
  bool both_faces = false;  ///< of an inlay: the carrier is faced on both sides and shows at the rim only
  Origin origin;
};

/// Any proportion of a few constituents: so that fractions exist when nothing named fits.
struct OpenMix {
  std::vector<int> constituents;
  double log_ratio_sd = 2.0;
  double prior = 0.01;
};

/// Where pieces come from, and what is common there.
struct Place {
  std::string key;
  std::vector<std::string> names;
  std::array<double, 4> builds{};  ///< prior of each build
  std::map<std::string, Commonness> families;
  std::vector<std::string> coats_only;  ///< of these families: met as coats or faces, a whole piece counts as not named
  Form form = Form::solid;              ///< default of the form option
  bool marks = true;                    ///< tests that leave a mark may be proposed
  std::vector<std::string> hazards;
  Range shape_factor{4.84, 8.0, 20.0};
  std::string reason;
  Origin origin;
};

using AnswerTable = std::map<std::string, std::map<std::string, double>>;

/// Keys of the bench tests: each answer has a column, a row with another key could never be answered.
inline constexpr std::array<std::string_view, 12> bench_test_keys = {
    "magnet",       "skin-colour", "notch-colour", "back-colour", "skin-reagent", "notch-reagent",
    "back-reagent", "sides",       "edge",         "file",        "paper",        "conductivity"};

/// A test at the bench and what its answers say.
struct BenchTest {
  std::string key;
  std::vector<std::string> names;
  std::string site;      ///< skin, notch, back, piece
  std::string property;  ///< word of a material, or "build"
  std::vector<std::string> answers;
  std::string step;
  bool marks = false;
  int effort = 1;
  std::vector<std::string> cautions;
  AnswerTable likelihood;         ///< word of the material (or build) -> answer -> probability
  AnswerTable likelihood_nitric;  ///< the same for the nitric drop
  double relative_sd = 0.0;       ///< numeric tests: spread of the reading
  Origin origin;
};

/// What makes a test mislead although the piece is what it is.
struct BenchFacts {
  double notch_through_coat = 0.9, reagent_works = 0.93, reagent_works_if_checked = 0.995, skin_clean = 0.85;
  double one_answer_for_a_metal = 0.0;  ///< tests of one property show the same on one metal
  std::map<std::string, double> dead_reagent, dirty_skin_reagent, dirty_skin_colour;
  Origin origin;
};

/// What a piece may be said to be.
struct Claim {
  std::string key, name;
  std::vector<std::string> names;
  std::string meaning;           ///< a sentence on what such a mark says, or nothing
  std::vector<int> materials;    ///< rows that make the claim true
  std::vector<int> plated_with;  ///< or: any plated piece with one of these coats
  std::vector<int> opposites;    ///< rows the weight must be able to refuse
  Origin origin;
};

/// Each hypothesis holds a bit for every caution.
inline constexpr int max_cautions = 32;

/// How loudly a caution speaks: the first line, the step that it belongs to, or the foot of the page.
enum class Urgency { stop, care, note };
inline constexpr std::array<Urgency, 3> all_urgencies = {Urgency::stop, Urgency::care, Urgency::note};
std::string_view name_of(Urgency urgency);

struct Caution {
  std::string key;
  Urgency urgency = Urgency::note;
  std::string text, why;
  double counts_from = 0.0;
  std::vector<int> constituents;
  Origin origin;
};

/// Everything known about materials: a value that is passed in, never a global.
struct Tables {
  std::vector<Source> sources;
  std::vector<Constituent> constituents;
  std::vector<Departure> departures;  ///< from ideal mixing, by system
  std::vector<Process> processes;     ///< pores by way of making
  std::vector<Material> materials;
  std::vector<BuildRow> builds;
  OpenMix open_mix;
  std::vector<Place> places;
  std::vector<BenchTest> tests;
  BenchFacts facts;
  std::vector<Claim> claims;
  std::vector<Caution> cautions;
  std::string checksum;  ///< of all table text, 16 hexadecimal digits (FNV-1a)
};

/// The tables compiled into the program. @throws Error (bad_table) never in a released build: a test reads them.
const Tables& built_in_tables();
/// The built-in tables with the *.toml files of a directory added; a row with a known key replaces the
/// built-in one. @throws Error (bad_table, cannot_open) with file, line and reason.
Tables tables_with(const std::filesystem::path& directory);

/// Index of a key, or -1.
int find_constituent(const Tables& tables, std::string_view key);
int find_material(const Tables& tables, std::string_view key);
int find_caution(const Tables& tables, std::string_view key);
/// Lookup by key or other name, spelling forgiving of case, blanks and underscores.
/// @throws Error (unknown_key) with the nearest valid names.
const Material& material_called(const Tables& tables, std::string_view name);
/// Also by name: "silver" and "Ag".
const Constituent& constituent_called(const Tables& tables, std::string_view name);
/// A family (group) of the materials.
std::string family_called(const Tables& tables, std::string_view name);
const Place& place_called(const Tables& tables, std::string_view name);
const BenchTest& test_called(const Tables& tables, std::string_view name);
/// A claim of the tables by key or by another name; null if it is none.
const Claim* find_claim(const Tables& tables, std::string_view name);
/// Also any material key is a claim; its opposites are then a few common metals more than 4 % away in density.
Claim claim_called(const Tables& tables, std::string_view name);

}  // namespace bilancetta
