#include "batch_context.hpp"

#include "limited_memory.hpp"
#include "support.hpp"

using namespace bilancetta;
using Catch::Matchers::WithinRel;

namespace
{

const Prepared& prepared()
{
  static const Prepared all(built_in_tables(), PieceSize{});
  return all;
}

Context context_of(std::initializer_list<std::pair<std::string, std::string>> given)
{
  Context context{.place = "switch", .form = Form::solid, .answers = {}};
  for (const auto& [test, answer] : given) {
    add_answer(built_in_tables(), context.answers, test, answer);
  }
  return context;
}

}  // namespace

// Against the odds of all answers together, which a single piece takes.
TEST_CASE("the background of a row knows words and numbers", "[batch_context]")
{
  BatchContexts contexts(prepared());
  for (const Context& context :
       {context_of({}), context_of({{"magnet", "no-pull"}}), context_of({{"conductivity", "27.5"}}),
        context_of({{"skin-reagent", "red"}, {"conductivity", "98"}, {"notch-reagent", "red"}})}) {
    const RowContext row = contexts.get(context);
    const BenchOdds odds(built_in_tables(), context.answers);
    const Members& members = prepared().members_of_any_size();
    for (std::size_t m = 0; m < members.size(); ++m) {
      CHECK_THAT(row.background().test_likelihood[m], WithinRel(odds.likelihood(members[m]->hypothesis), 1e-4));
    }
  }
}

TEST_CASE("rows that differ in a number share what their words say", "[batch_context]")
{
  BatchContexts contexts(prepared());
  const RowContext one = contexts.get(context_of({{"magnet", "no-pull"}, {"conductivity", "27.5"}}));
  const RowContext other = contexts.get(context_of({{"magnet", "no-pull"}, {"conductivity", "61"}}));
  const RowContext none = contexts.get(context_of({{"magnet", "no-pull"}}));
  CHECK(&one.common() == &other.common());
  CHECK(&one.common() != &none.common());  // whose meter has not been asked
  CHECK(one.background().test_likelihood != other.background().test_likelihood);
  CHECK(one.common().answered != none.common().answered);
}

TEST_CASE("a context that memory was wanting for is made anew for the next who asks", "[batch_context]")
{
  const Context context = context_of({{"magnet", "no-pull"}});
  const Background whole = BatchContexts(prepared()).get(context).background();
  bool refused = true;
  int told = 0;
  for (int after = 0; refused && after < 1000000; after += 1 + after / 20) {
    BatchContexts contexts(prepared());
    {
      const testing::LimitedMemory limited(after);
      try {
        static_cast<void>(contexts.get(context));
      } catch (const std::bad_alloc&) {
        ++told;
      }
      refused = testing::LimitedMemory::refused();
    }
    const Background again = contexts.get(context).background();
    INFO(after << " requests were granted");
    REQUIRE(again.prior == whole.prior);
    REQUIRE(again.test_likelihood == whole.test_likelihood);
  }
  CHECK(told > 10);
  CHECK_FALSE(refused);
}
