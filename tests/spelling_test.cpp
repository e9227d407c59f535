#include "bilancetta/spelling.hpp"

#include <chrono>

#include "bilancetta/bench_test.hpp"
#include "bilancetta/tables.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;

TEST_CASE("edit distances are those of the usual examples", "[spelling]")
{
  // Levenshtein distances as printed in textbooks of the algorithm: kitten/sitting 3, saturday/sunday 3.
  CHECK(edit_distance("kitten", "sitting") == 3);
  CHECK(edit_distance("saturday", "sunday") == 3);
  CHECK(edit_distance("", "abc") == 3);
  CHECK(edit_distance("silver", "silver") == 0);
}

TEST_CASE("names are the same whatever their letters' case and the marks between their words", "[spelling]")
{
  const std::vector<std::string> names{"Ag-CdO 10", "ag_cdo_10", "AG CDO-10_", "ag-cdo-12", "", " -", "ag-cdo-1"};
  for (const std::string& a : names) {
    for (const std::string& b : names) {
      CHECK(same_name(a, b) == (folded(a) == folded(b)));
    }
  }
  CHECK(same_name(names[0], names[2]));
  CHECK_FALSE(same_name(names[0], names[3]));
}

TEST_CASE("a name that was probably meant is close, others are not", "[spelling]")
{
  const std::vector<std::string> known{"dry_g", "rise_g",   "skin_colour",      "piece",
                                       "edge",  "area_cm2", "conductivity_iacs"};
  CHECK(close_name("dry_gg", known) == "dry_g");
  CHECK(close_name("Dry g", known) == "dry_g");
  CHECK(close_name("rise", known) == "rise_g");  // the unit left out
  CHECK(close_name("area", known) == "area_cm2");
  CHECK(close_name("conductivity", known) == "conductivity_iacs");
  CHECK(close_name("skin-color", known) == "skin_colour");
  CHECK(close_name("skn_color", known) == "skin_colour");
  CHECK(close_name("egde", known) == "edge");
  CHECK(close_name("price", known).empty());  // two letters of five are another word
  CHECK(close_name("magent", {"magnet", "reagent"}) == "magnet");
  CHECK(close_name("colour skin", known) == "skin_colour");  // its words the other way round
  CHECK(close_name("skin", known).empty());
  CHECK(close_name("shelf", known).empty());
  CHECK(close_name("", known).empty());
  CHECK(close_name("dry_g", {}).empty());
}

TEST_CASE("a misspelt name is refused with the name that was meant first", "[spelling]")
{
  const Tables& tables = built_in_tables();
  const auto first = [](const Refusal& refusal) {
    return refusal.message.substr(refusal.message.find("nearest are "));
  };
  CHECK(contains(first(refusal_of([&] { claim_called(tables, "sterlin"); })), "are sterling"));
  CHECK(contains(first(refusal_of([&] { claim_called(tables, "gold-751"); })), "are gold-750"));
  CHECK(contains(first(refusal_of([&] { test_called(tables, "reagent-skin"); })), "are skin-reagent"));
  // A metal alone is no claim; its finenesses are near.
  CHECK(contains(first(refusal_of([&] { claim_called(tables, "gold"); })), "are gold-"));
  CHECK(contains(first(refusal_of([&] { claim_called(tables, "silver"); })), "sterling (sterling silver (925))"));
  // A claim may be called like the material that makes it true.
  CHECK_FALSE(contains(first(refusal_of([&] { claim_called(tables, "sterlin"); })),
                       "(sterling silver (925)), sterling (sterling silver"));
  CHECK(contains(first(refusal_of([&] { place_called(tables, "braker"); })), "are breaker"));
  CHECK(contains(first(refusal_of([&] { test_called(tables, "magnt"); })), "are magnet"));
  CHECK(contains(first(refusal_of([&] { material_called(tables, "sterlng"); })), "are sterling"));
  // By a word of its name, too: no key is spelt like copper.
  CHECK(contains(first(refusal_of([&] { material_called(tables, "coper"); })), "copper"));
  CHECK(contains(refusal_of([&] {
                   Answers answers;
                   add_answer(tables, answers, "magnet", "wek");
                 }).message,
                 "weak"));
}

TEST_CASE("a cell of a megabyte where a name should be is refused at once", "[spelling]")
{
  const Tables& tables = built_in_tables();
  const std::string cell = "sterlin" + std::string(1U << 20U, 'g');
  const auto begun = std::chrono::steady_clock::now();
  // What is nearest is judged by how the cell begins.
  const std::string message = refusal_of([&] { claim_called(tables, cell); }).message;
  CHECK_FALSE(nearest_names(cell, {"sterling", "magnet"}).empty());
  CHECK(close_name(cell, {"sterling", "magnet"}).empty());
  CHECK(std::chrono::steady_clock::now() - begun < std::chrono::seconds(2));
  CHECK(contains(message, "the nearest are "));
}
