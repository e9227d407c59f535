#include "conflicts.hpp"

#include <random>

#include "batch_context.hpp"
#include "bilancetta/claim.hpp"
#include "referee.hpp"
#include "support.hpp"

using namespace bilancetta;
using namespace testing;

// A batch asks the bound first, a single piece never: no conflict may be lost by that.
TEST_CASE("answers that are expected together are in no conflict", "[conflicts]")
{
  const Tables& tables = built_in_tables();
  const Prepared prepared(tables, PieceSize{});
  BatchContexts contexts(prepared);
  std::mt19937 random(20240601);
  int conflicting = 0;
  int spared = 0;
  for (int i = 0; i < 400; ++i) {
    Context context{.place = i % 2 == 0 ? "switch" : "contactor", .form = "solid", .answers = {}};
    for (const BenchTest& test : tables.tests) {
      if (random() % 3 == 0) {
        const std::vector<std::string> answers = possible_answers(test);
        add_answer(tables, context.answers, test.key, answers[random() % answers.size()]);
      }
    }
    if (context.answers.given.empty()) {
      continue;
    }
    const RowContext row = contexts.get(context);
    Analysis a;
    a.curve = referee::gaussian_curve(7.0 + 0.01 * static_cast<double>(random() % 1000), 0.1);
    a.weights = evidence_weights_of(a.curve);
    a.members = &prepared.members(0.1);
    a.evidence = a.members->evidence(a.weights);
    const bool expected = expected_together(a, row.background(), *row.common().given);
    const auto conflicts = conflicts_of(*row.common().book, *row.common().given, context.answers, a, row.background());
    CAPTURE(i, expected, conflicts.size());
    CHECK((!expected || conflicts.empty()));
    conflicting += conflicts.empty() ? 0 : 1;
    spared += expected ? 1 : 0;
  }
  CHECK(conflicting > 50);
  CHECK(spared > 20);
}
