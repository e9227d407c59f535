#include "bilancetta/spelling.hpp"

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

TEST_CASE("a misspelt name is refused with the name that was meant first", "[spelling]")
{
  const Tables& tables = built_in_tables();
  const auto first = [](const Refusal& refusal) {
    return refusal.message.substr(refusal.message.find("nearest are "));
  };
  CHECK(contains(first(refusal_of([&] { claim_called(tables, "sterlin"); })), "are sterling"));
  CHECK(contains(first(refusal_of([&] { claim_called(tables, "gold-751"); })), "are gold-750"));
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
