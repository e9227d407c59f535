#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

#include "material_check.hpp"
#include "table_reader.hpp"

namespace bilancetta
{

namespace
{

template <typename Row>
void check_sources(const Tables& tables, const std::vector<Row>& rows, std::set<std::string>& used)
{
  for (const Row& row : rows) {
    check_source(tables, row.origin, row.key);
    used.insert(row.origin.source);
  }
}

void check_free_quantities(const BuildRow& row, int count, const std::string& piece)
{
  if (count > max_variables) {
    refuse_row(
        row.origin, row.key,
        fmt::format("{} has {} free quantities, at most {} are possible; fix the small ones (low = typical = high)",
                    piece, count, max_variables));
  }
}

// A pair that stands in two rows of a kind would count twice. Faced on one side and on both are two kinds.
void check_pairs(const Tables& tables)
{
  std::map<std::tuple<Build, bool, int, int>, const BuildRow*> known;
  for (const BuildRow& row : tables.builds) {
    const std::vector<int> none = {-1};
    for (const int outer : row.outer) {
      for (const int inner : row.inner.empty() ? none : row.inner) {
        const auto [first, is_new] = known.try_emplace({row.build, row.both_faces, outer, inner}, &row);
        if (!is_new) {
          const std::string& key = tables.materials[outer].key;
          refuse_row(row.origin, row.key,
                     fmt::format("{} stands in \"{}\" already and would count twice; leave it out of one, or give this "
                                 "row the key of that one, which it then stands for",
                                 inner < 0 ? key : key + " with " + tables.materials[inner].key, first->second->key));
        }
      }
    }
  }
}

void check_builds(const Tables& tables)
{
  check_pairs(tables);
  for (const BuildRow& row : tables.builds) {
    check_found(tables, row.origin, row.key, row.found);
    // A coat adds thickness and shape, a face its share, a hollow piece its void.
    const int more = (row.amount.high > row.amount.low ? 1 : 0) + (row.build == Build::plated ? 1 : 0);
    for (const int index : row.outer) {
      const Material& outer = tables.materials[index];
      if (row.inner.empty()) {
        check_free_quantities(row, free_quantities(outer) + more, fmt::format("hollow {}", outer.key));
      }
      for (const int other : row.inner) {
        const Material& inner = tables.materials[other];
        check_free_quantities(row, free_quantities(outer) + free_quantities(inner) + more,
                              fmt::format("{} with {}", outer.key, inner.key));
      }
    }
  }
}

void check_number_of_cautions(const Tables& tables)
{
  if (tables.cautions.size() > max_cautions) {
    const Caution& first_too_many = tables.cautions[max_cautions];
    refuse_row(first_too_many.origin, first_too_many.key,
               fmt::format("with the built-in ones there are {} cautions, at most {} are possible; take some out, or "
                           "give yours the keys of those that they stand for",
                           tables.cautions.size(), max_cautions));
  }
}

// Words that no build has would be lost unseen.
void check_words_of_builds(const BenchTest& test)
{
  for (const auto& [word, answers] : test.likelihood) {
    if (word != "both-faces" && std::none_of(all_builds.begin(), all_builds.end(),
                                             [&, &word = word](Build build) { return name_of(build) == word; })) {
      refuse_row(
          test.origin, test.key,
          fmt::format("likelihood of \"{}\", which is not one of solid, plated, inlay, other, both-faces", word));
    }
  }
}

void check_test(const BenchTest& test)
{
  if (test.property == "build") {
    check_words_of_builds(test);
  }
  for (const AnswerTable* table : {&test.likelihood, &test.likelihood_nitric}) {
    for (const auto& [word, answers] : *table) {
      double sum = 0.0;
      for (const std::string& answer : test.answers) {
        const auto match = answers.find(answer);
        if (match == answers.end() || !(match->second > 0.0 && match->second < 1.0)) {
          refuse_row(
              test.origin, test.key,
              fmt::format("likelihood of \"{}\" given \"{}\" must lie between 0 and 1, ends excluded", answer, word));
        }
        sum += match->second;
      }
      if (std::abs(sum - 1.0) > 1e-4 || answers.size() != test.answers.size()) {
        refuse_row(test.origin, test.key,
                   fmt::format("likelihoods given \"{}\" sum to {}, not 1, or name an unknown answer", word, sum));
      }
    }
  }
}

// What dead drops and dirty skins show has a chance for every answer of the tests they spoil.
void check_facts(const Tables& tables)
{
  const auto check = [&](const char* field, const std::map<std::string, double>& chances, const BenchTest& test) {
    for (const std::string& answer : test.answers) {
      if (!chances.contains(answer)) {
        refuse_row(tables.facts.origin, field, fmt::format("no chance is given for \"{}\" of {}", answer, test.key));
      }
    }
  };
  for (const BenchTest& test : tables.tests) {
    const bool surface = test.site == "skin" || test.site == "back";
    if (test.property == "chromate") {
      check("dead_reagent", tables.facts.dead_reagent, test);
    }
    if (surface && test.property == "chromate") {
      check("dirty_skin_reagent", tables.facts.dirty_skin_reagent, test);
    }
    if (surface && test.property == "skin") {
      check("dirty_skin_colour", tables.facts.dirty_skin_colour, test);
    }
  }
}

}  // namespace

void check_source(const Tables& tables, const Origin& origin, const std::string& key)
{
  const auto known = std::any_of(tables.sources.begin(), tables.sources.end(),
                                 [&](const Source& source) { return source.key == origin.source; });
  if (!origin.source.empty() && !known) {
    refuse_row(origin, key, fmt::format("source \"{}\" is not in the tables; add a [[source]] row", origin.source));
  }
}

void check_tables(const Tables& tables, bool users_rows)
{
  std::set<std::string> used;
  check_sources(tables, tables.constituents, used);
  check_sources(tables, tables.departures, used);
  check_sources(tables, tables.processes, used);
  check_sources(tables, tables.materials, used);
  check_sources(tables, tables.builds, used);
  check_sources(tables, tables.places, used);
  check_sources(tables, tables.tests, used);
  check_sources(tables, tables.claims, used);
  check_sources(tables, tables.cautions, used);
  for (const Source& source : tables.sources) {
    if (!users_rows && !used.contains(source.key)) {
      refuse_row(source.origin, source.key, "no row uses this source; remove it or cite it");
    }
  }
  for (const Constituent& constituent : tables.constituents) {
    double printed = 0.0;
    const char* end = constituent.printed.data() + constituent.printed.size();
    const auto [stop, trouble] = std::from_chars(constituent.printed.data(), end, printed);
    const bool agrees = trouble == std::errc() && stop == end &&
                        std::abs(printed - constituent.density_g_cm3) <= 0.005 * constituent.density_g_cm3;
    if (!constituent.printed.empty() && !agrees) {
      refuse_row(constituent.origin, constituent.key,
                 fmt::format("printed \"{}\" is not density {}", constituent.printed, constituent.density_g_cm3));
    }
  }
  check_materials(tables);
  check_builds(tables);
  check_number_of_cautions(tables);
  for (const BenchTest& test : tables.tests) {
    check_test(test);
  }
  check_facts(tables);
}

}  // namespace bilancetta
