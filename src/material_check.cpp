#include "material_check.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "bilancetta/error.hpp"
#include "bilancetta/spelling.hpp"
#include "table_reader.hpp"

namespace bilancetta
{

void refuse_row(const Origin& origin, const std::string& key, const std::string& message)
{
  throw Error(ErrorCode::bad_table, message,
              {.file = origin.file, .line = origin.line, .field = fmt::format("row \"{}\"", key)});
}

std::vector<double> printed_numbers(const std::string& text)
{
  std::vector<double> numbers;
  int brackets = 0;
  for (const char* at = text.data(); at != text.data() + text.size();) {
    brackets += *at == '(' ? 1 : *at == ')' ? -1 : 0;
    double number = 0.0;
    const bool digit = *at >= '0' && *at <= '9';
    const auto [stop, trouble] = std::from_chars(at, text.data() + text.size(), number, std::chars_format::fixed);
    if (brackets == 0 && digit && trouble == std::errc()) {
      numbers.push_back(number);
      at = stop;
    } else {
      ++at;
    }
  }
  return numbers;
}

namespace
{

void check_balance(const Tables& tables, const Material& m)
{
  double others = 1.0;
  for (std::size_t i = 0; i < m.components.size(); ++i) {
    others -= static_cast<int>(i) != m.balance ? m.components[i].fraction.typical : 0.0;
  }
  for (std::size_t i = 0; i < m.components.size(); ++i) {
    const double rest = others + m.components[i].fraction.typical - m.components[i].fraction.high;
    if (static_cast<int>(i) != m.balance && rest <= 0.0) {
      refuse_row(m.origin, m.key,
                 fmt::format("at the high end of {} nothing is left for the balance",
                             tables.constituents[m.components[i].constituent].key));
    }
  }
  if (free_quantities(m) > max_variables || m.components.size() > max_components) {
    refuse_row(m.origin, m.key,
               fmt::format("more than {} free quantities; fix the small ones (low = typical = high)", max_variables));
  }
}

// A measured density against mixing with its system's departure, and pores against the process.
void check_density(const Tables& tables, const Material& m)
{
  constexpr double reach = 0.03;
  const double ideal = ideal_density_g_cm3(m, tables.constituents);
  // The largest departure of a real alloy in the sources is 10 % (Cu-Sb); more is a slip.
  if (m.measured && std::abs(m.departure.typical) > 0.11) {
    refuse_row(m.origin, m.key,
               fmt::format("density {} is {:+.1f} % from the {:.3f} that its composition gives; one of them is wrong",
                           m.density.typical, 100 * m.departure.typical, ideal));
  }
  const double modelled = ideal * (1.0 + departure_of(tables.departures, m.components));
  if (m.measured && m.note.empty() &&
      !(modelled >= (1.0 - reach) * m.density.low && modelled <= (1.0 + reach) * m.density.high)) {
    refuse_row(m.origin, m.key,
               fmt::format("density {} to {} is more than 3 % from the {:.3f} that mixing with the departure of its "
                           "system gives; correct it, or say why in note",
                           m.density.low, m.density.high, modelled));
  }
  if (m.porous && !(m.pores.low >= 0.0 && m.pores.typical > 0.0 && m.pores.high < 0.9)) {
    refuse_row(m.origin, m.key, "pores need 0 <= low, 0 < typical and high < 0.9");
  }
  if (!m.process.empty()) {
    const auto process = std::find_if(tables.processes.begin(), tables.processes.end(),
                                      [&](const Process& p) { return p.key == m.process; });
    if (process == tables.processes.end() || !m.porous) {
      refuse_row(m.origin, m.key,
                 fmt::format("process \"{}\" is not in the tables, or the row has no pores", m.process));
    }
    if (m.pores.typical > process->pores.high && m.note.empty()) {
      refuse_row(m.origin, m.key,
                 fmt::format("pores {} are more than the {} of {}; correct them, or say why in note", m.pores.typical,
                             process->pores.high, m.process));
    }
  }
}

// Every printed number must lie near the row's range, and one of them in it, or the note says why.
void check_printed(const Tables& tables, const Material& m)
{
  constexpr double off = 0.05;   // another composition, another grade
  constexpr double near = 0.01;  // rounding, and pores read from the number
  if (m.printed.empty()) {
    return;
  }
  const double typical = typical_density_g_cm3(m, tables.constituents);
  const double ideal = ideal_density_g_cm3(m, tables.constituents);
  const Range range = m.measured ? m.density
                      : m.porous ? Range{ideal * (1 - m.pores.high), typical, ideal * (1 - m.pores.low)}
                                 : Range{typical * (1 - 2 * m.scatter), typical, typical * (1 + 2 * m.scatter)};
  const std::vector<double> numbers = printed_numbers(m.printed);
  if (numbers.empty()) {
    refuse_row(m.origin, m.key, fmt::format("measured = \"{}\" holds no number", m.printed));
  }
  const auto within = [&](double reach) {
    return [=](double n) { return n >= (1 - reach) * range.low && n <= (1 + reach) * range.high; };
  };
  const bool all = std::all_of(numbers.begin(), numbers.end(), within(off));
  const bool one = std::any_of(numbers.begin(), numbers.end(), within(near));
  if (m.note.empty() && !(all && one)) {
    refuse_row(m.origin, m.key,
               fmt::format("measured = \"{}\" does not agree with a density of {:.3f} to {:.3f}; correct one of them, "
                           "or say why in note",
                           m.printed, range.low, range.high));
  }
}

template <typename Row>
std::vector<std::string> keys_of(const std::vector<Row>& rows)
{
  std::vector<std::string> keys;
  keys.reserve(rows.size());
  for (const Row& row : rows) {
    keys.push_back(row.key);
  }
  return keys;
}

void require_known(const Origin& origin, const std::string& key, const char* what, const std::string& name,
                   const std::vector<std::string>& known)
{
  if (std::find(known.begin(), known.end(), name) == known.end()) {
    refuse_row(
        origin, key,
        fmt::format("{} \"{}\" is not in the tables; the nearest are {}", what, name, nearest_names(name, known)));
  }
}

void check_family(const Tables& tables, const Material& m)
{
  if (std::any_of(tables.places.begin(), tables.places.end(),
                  [&](const Place& p) { return p.families.contains(m.group); })) {
    return;
  }
  std::vector<std::string> families;
  for (const Place& place : tables.places) {
    for (const auto& [family, commonness] : place.families) {
      families.push_back(family);
    }
  }
  refuse_row(m.origin, m.key,
             fmt::format("group \"{}\" is not a family of any place; the nearest are {}", m.group,
                         nearest_names(m.group, families)));
}

void check_words(const Tables& tables, const Material& m)
{
  check_family(tables, m);
  check_found(tables, m.origin, m.key, m.found);
  for (const std::string& caution : m.cautions) {
    require_known(m.origin, m.key, "caution", caution, keys_of(tables.cautions));
  }
  for (const BenchTest& test : tables.tests) {
    const auto word = m.words.find(test.property);
    if (word == m.words.end() || word->second == "varies" || test.likelihood.contains(word->second)) {
      continue;
    }
    std::string known;
    for (const auto& [valid, answers] : test.likelihood) {
      known += (known.empty() ? "" : ", ") + valid;
    }
    refuse_row(m.origin, m.key,
               fmt::format("{} = \"{}\" is not a word that the test {} knows; there are {}", test.property,
                           word->second, test.key, known));
  }
}

bool same(double a, double b)
{
  return std::abs(a - b) < 1e-9;
}

bool same_piece(const Material& a, const Material& b)
{
  const auto listed_in = [](const Material& m) {
    return [&m](const Component& c) {
      return std::any_of(m.components.begin(), m.components.end(), [&](const Component& other) {
        return other.constituent == c.constituent && same(other.fraction.typical, c.fraction.typical);
      });
    };
  };
  return a.group == b.group && a.standard == b.standard && a.porous == b.porous && a.measured == b.measured &&
         same(a.pores.typical, b.pores.typical) && same(a.density.typical, b.density.typical) &&
         a.components.size() == b.components.size() &&
         std::all_of(a.components.begin(), a.components.end(), listed_in(b));
}

}  // namespace

void check_found(const Tables& tables, const Origin& origin, const std::string& key,
                 const std::map<std::string, Commonness>& found)
{
  for (const auto& [place, commonness] : found) {
    require_known(origin, key, "found: place", place, keys_of(tables.places));
  }
}

namespace
{

// A material counts at a place only as far as that names its family.
void check_family_is_named(const Tables& tables, const Material& m)
{
  for (const auto& [key, commonness] : m.found) {
    const Place& place = place_called(tables, key);
    if (!place.families.contains(m.group)) {
      refuse_row(
          m.origin, m.key,
          fmt::format("found at {}, whose [[place]] row does not name the family \"{}\", so that it would hardly "
                      "count; name it there (a row of your own with that key replaces the built-in one), take "
                      "an existing family, or leave that place out",
                      key, m.group));
    }
  }
}

}  // namespace

void check_materials(const Tables& tables)
{
  for (std::size_t i = 0; i < tables.materials.size(); ++i) {
    const Material& m = tables.materials[i];
    check_balance(tables, m);
    check_density(tables, m);
    check_printed(tables, m);
    check_words(tables, m);
    check_family_is_named(tables, m);
    for (std::size_t j = 0; j < i; ++j) {
      const Material& first = tables.materials[j];
      if (same_piece(first, m)) {
        refuse_row(m.origin, m.key,
                   fmt::format("the same piece as \"{}\" in {}:{} (family, composition, density or pores, standard); "
                               "it would count twice",
                               first.key, first.origin.file, first.origin.line));
      }
    }
  }
}

}  // namespace bilancetta
