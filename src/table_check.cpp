#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <set>

#include "bilancetta/error.hpp"
#include "table_reader.hpp"

namespace bilancetta
{

namespace
{

[[noreturn]] void refuse(const Origin& origin, const std::string& key, const std::string& message)
{
  throw Error(ErrorCode::bad_table, message,
              {.file = origin.file, .line = origin.line, .field = fmt::format("row \"{}\"", key)});
}

template <typename Row>
void check_sources(const Tables& tables, const std::vector<Row>& rows, std::set<std::string>& used)
{
  for (const Row& row : rows) {
    if (row.origin.source.empty()) {
      continue;
    }
    const auto known = std::any_of(tables.sources.begin(), tables.sources.end(),
                                   [&](const Source& source) { return source.key == row.origin.source; });
    if (!known) {
      refuse(row.origin, row.key,
             fmt::format("source \"{}\" is not in the tables; add a [[source]] row", row.origin.source));
    }
    used.insert(row.origin.source);
  }
}

void check_material(const Tables& tables, const Material& m)
{
  double others = 1.0;
  for (std::size_t i = 0; i < m.components.size(); ++i) {
    if (static_cast<int>(i) != m.balance) {
      others -= m.components[i].fraction.typical;
    }
  }
  for (std::size_t i = 0; i < m.components.size(); ++i) {
    const double rest = others + m.components[i].fraction.typical - m.components[i].fraction.high;
    if (static_cast<int>(i) != m.balance && rest <= 0.0) {
      refuse(m.origin, m.key,
             fmt::format("at the high end of {} nothing is left for the balance",
                         tables.constituents[m.components[i].constituent].key));
    }
  }
  const double ideal = ideal_density_g_cm3(m, tables.constituents);
  // The largest departure of a real alloy in the sources is 10 % (Cu-Sb); more is a slip.
  if (m.measured && std::abs(m.departure) > 0.11) {
    refuse(m.origin, m.key,
           fmt::format("density {} is {:+.1f} % from the {:.3f} that its composition gives; one of them is wrong",
                       m.density.typical, 100 * m.departure, ideal));
  }
  if (m.porous && !(m.pores.low >= 0.0 && m.pores.typical > 0.0 && m.pores.high < 0.9)) {
    refuse(m.origin, m.key, "pores need 0 <= low, 0 < typical and high < 0.9");
  }
  for (const auto& [place, commonness] : m.found) {
    if (std::none_of(tables.places.begin(), tables.places.end(),
                     [&, &name = place](const Place& p) { return p.key == name; })) {
      refuse(m.origin, m.key, fmt::format("found: \"{}\" is not a place of the tables", place));
    }
  }
  if (std::none_of(tables.places.begin(), tables.places.end(),
                   [&](const Place& p) { return p.families.contains(m.group); })) {
    refuse(m.origin, m.key,
           fmt::format("group \"{}\" is not a family of any place; see the list in tables/README.md", m.group));
  }
  for (const BenchTest& test : tables.tests) {
    const auto word = m.words.find(test.property);
    if (word != m.words.end() && word->second != "varies" && !test.likelihood.contains(word->second)) {
      refuse(m.origin, m.key,
             fmt::format("{} = \"{}\" is not a word that the test {} knows", test.property, word->second, test.key));
    }
  }
  for (const std::string& caution : m.cautions) {
    if (std::none_of(tables.cautions.begin(), tables.cautions.end(),
                     [&](const Caution& c) { return c.key == caution; })) {
      refuse(m.origin, m.key, fmt::format("caution \"{}\" is not in the tables", caution));
    }
  }
  if (free_quantities(m) > max_variables || m.components.size() > max_components) {
    refuse(m.origin, m.key,
           fmt::format("more than {} free quantities; fix the small ones (low = typical = high)", max_variables));
  }
}

void check_builds(const Tables& tables)
{
  for (const BuildRow& row : tables.builds) {
    for (const int outer : row.outer) {
      for (const int inner : row.inner) {
        // A coat adds thickness and shape, a face its share.
        const int more = row.build == Build::plated ? 2 : 1;
        if (free_quantities(tables.materials[outer]) + free_quantities(tables.materials[inner]) + more >
            max_variables) {
          refuse(row.origin, row.key,
                 fmt::format("{} on {} has more than {} free quantities; fix small ones in the materials",
                             tables.materials[outer].key, tables.materials[inner].key, max_variables));
        }
      }
    }
  }
}

void check_test(const BenchTest& test)
{
  for (const AnswerTable* table : {&test.likelihood, &test.likelihood_nitric}) {
    for (const auto& [word, answers] : *table) {
      double sum = 0.0;
      for (const std::string& answer : test.answers) {
        const auto match = answers.find(answer);
        if (match == answers.end() || !(match->second > 0.0 && match->second < 1.0)) {
          refuse(
              test.origin, test.key,
              fmt::format("likelihood of \"{}\" given \"{}\" must lie between 0 and 1, ends excluded", answer, word));
        }
        sum += match->second;
      }
      if (std::abs(sum - 1.0) > 1e-4 || answers.size() != test.answers.size()) {
        refuse(test.origin, test.key,
               fmt::format("likelihoods given \"{}\" sum to {}, not 1, or name an unknown answer", word, sum));
      }
    }
  }
}

}  // namespace

void check_tables(const Tables& tables, bool users_rows)
{
  std::set<std::string> used;
  check_sources(tables, tables.constituents, used);
  check_sources(tables, tables.materials, used);
  check_sources(tables, tables.builds, used);
  check_sources(tables, tables.places, used);
  check_sources(tables, tables.tests, used);
  check_sources(tables, tables.claims, used);
  check_sources(tables, tables.cautions, used);
  for (const Source& source : tables.sources) {
    if (!users_rows && !used.contains(source.key)) {
      refuse(source.origin, source.key, "no row uses this source; remove it or cite it");
    }
  }
  for (const Constituent& constituent : tables.constituents) {
    double printed = 0.0;
    const char* end = constituent.printed.data() + constituent.printed.size();
    const auto [stop, trouble] = std::from_chars(constituent.printed.data(), end, printed);
    const bool agrees = trouble == std::errc() && stop == end &&
                        std::abs(printed - constituent.density_g_cm3) <= 0.005 * constituent.density_g_cm3;
    if (!constituent.printed.empty() && !agrees) {
      refuse(constituent.origin, constituent.key,
             fmt::format("printed \"{}\" is not density {}", constituent.printed, constituent.density_g_cm3));
    }
  }
  for (const Material& material : tables.materials) {
    check_material(tables, material);
  }
  check_builds(tables);
  for (const BenchTest& test : tables.tests) {
    check_test(test);
  }
}

}  // namespace bilancetta
