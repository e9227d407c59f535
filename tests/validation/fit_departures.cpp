// Fits the departures from ideal mixing and the pores by process, and writes them as tables/departures.toml.
//
// usage: fit_departures MEASURED.csv                 prints the table
//        fit_departures MEASURED.csv check TABLE     0 if TABLE is what it would print, else 1

#include <fmt/core.h>
#include <fmt/ranges.h>

#include <fstream>
#include <iostream>
#include <sstream>

#include "departure_fit.hpp"

using namespace bilancetta;
using namespace validation;

namespace
{

bool every_row(const AlloyRow&)
{
  return true;
}

std::string quoted(const std::vector<const char*>& keys)
{
  std::string list;
  for (const char* key : keys) {
    list += (list.empty() ? "\"" : ", \"") + std::string(key) + "\"";
  }
  return "[" + list + "]";
}

std::string origin_of(int rows, const std::vector<std::string>& sources)
{
  return rows > 0 ? fmt::format("source = \"measured-alloys\"\nwhere = \"{} rows: {}\"\nprovenance = \"looked-up\"\n",
                                rows, fmt::join(sources, ", "))
                  : "source = \"memory\"\nwhere = \"no row at hand\"\nprovenance = \"no-source-yet\"\n";
}

std::string text_of(const SystemFit& fit)
{
  const System& system = *fit.system;
  std::string knots;
  for (std::size_t k = 0; k < system.knots.size(); ++k) {
    knots += fmt::format("{}[{:g}, {:.4f}]", k ? ", " : "", system.knots[k], fit.values[k]);
  }
  return fmt::format(
      "[[departure]]\nkey = \"{}\"\nname = \"{}\"\nconstituents = {}\nsolutes = {}\nothers = {:g}\nknots = [{}]\n"
      "scatter = {:.4f}\nrows = {}\n{}note = \"{}\"\n\n",
      system.key, system.name, quoted(system.constituents), quoted(system.solutes), system.others, knots, fit.scatter,
      fit.rows, origin_of(fit.rows, fit.sources), system.note);
}

std::string text_of(const ProcessWays& process, const ProcessFit& fit)
{
  return fmt::format(
      "[[process]]\nkey = \"{}\"\nname = \"{}\"\npores = [0.0, {:.4f}, {:.4f}]\nscatter = {:.4f}\nrows = {}\n{}\n",
      process.key, process.name, fit.typical, fit.high, fit.scatter, fit.rows, origin_of(fit.rows, fit.sources));
}

std::string table(const std::string& measured)
{
  const Tables& tables = built_in_tables();
  const std::vector<AlloyRow> rows = read_alloys(tables, measured);
  std::string text =
      "# Written by tests/validation/fit_departures.cpp from tests/validation/measured_alloys.csv; do not edit by "
      "hand.\n"
      "# Departure of melted alloys from ideal mixing, by system, and pores of sintered materials, by process.\n"
      "# Fields: README.md. The knots are pairs of the mass fraction of the solutes and measured / ideal density - "
      "1.\n\n"
      "[[source]]\nkey = \"measured-alloys\"\ntitle = \"a fit to measured alloys and composites of stated "
      "composition\"\n"
      "note = \"tests/validation/measured_alloys.csv names the source of each row\"\n\n";
  for (const System& system : systems()) {
    text += text_of(fit_system(tables, system, rows, every_row));
  }
  for (const ProcessWays& process : processes()) {
    text += text_of(process, fit_process(rows, process.key, every_row));
  }
  text.pop_back();
  return text;
}

int check(const std::string& text, const char* path)
{
  std::ifstream in(path);
  std::ostringstream committed;
  committed << in.rdbuf();
  if (committed.str() == text) {
    return 0;
  }
  std::cerr << path << " is not what the measured rows give; write it again\n";
  return 1;
}

}  // namespace

int main(int count, char** words)
{
  try {
    const bool checking = count == 4 && std::string(words[2]) == "check";
    if (count != 2 && !checking) {
      std::cerr << "usage: fit_departures MEASURED.csv [check TABLE]\n";
      return 2;
    }
    const std::string text = table(words[1]);
    if (checking) {
      return check(text, words[3]);
    }
    std::cout << text;
    return std::cout.good() ? 0 : 2;
  } catch (const std::exception& error) {
    std::cerr << error.what() << '\n';
    return 2;
  }
}
