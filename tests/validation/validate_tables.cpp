// Compares the tables with what others print, and their mixing model with measured rows left out.
//
// usage: validate_tables PROJECT check    0 if every bar is reached and the pages are up to date, else 1
//        validate_tables PROJECT write    writes a section of docs/validation.md and of docs/tables.md, and
//        docs/pictures

#include <fmt/core.h>

#include <filesystem>
#include <fstream>
#include <iostream>
#include <sstream>

#include "pages.hpp"

using namespace validation;
namespace fs = std::filesystem;

namespace
{

// What stands between a pair of these in a page is written by this program; the rest by hand or by others.
struct Marks {
  const char* begin;
  const char* end;
};
constexpr Marks systems_marks = {"<!-- systems: written by validate_tables -->\n", "<!-- systems: end -->\n"};
constexpr Marks tables_marks = {"<!-- tables: written by validate_tables -->\n", "<!-- tables: end -->\n"};

std::string text_of(const fs::path& path)
{
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

std::string with_section(const fs::path& path, const Marks& marks, const std::string& section)
{
  const std::string page = text_of(path);
  const std::size_t begin = page.find(marks.begin);
  const std::size_t end = page.find(marks.end);
  if (begin == std::string::npos || end == std::string::npos) {
    throw std::runtime_error(path.string() + " has lost the marks of its section: " + marks.begin);
  }
  return page.substr(0, begin) + marks.begin + section + page.substr(end);
}

// Every file as it should be, by its path.
std::map<fs::path, std::string> files(const Findings& findings, const fs::path& project)
{
  std::map<fs::path, std::string> all;
  const fs::path validation = project / "docs/validation.md";
  const fs::path tables = project / "docs/tables.md";
  all[validation] = with_section(validation, tables_marks, validation_section(findings));
  all[tables] = with_section(tables, systems_marks, systems_section(findings));
  for (const auto& [name, svg] : pictures(findings)) {
    all[project / "docs/pictures" / name] = svg;
  }
  return all;
}

int write(const Findings& findings, const fs::path& project)
{
  fs::create_directories(project / "docs/pictures");
  for (const auto& [path, text] : files(findings, project)) {
    std::ofstream out(path, std::ios::binary);
    out << text;
    if (!out) {
      throw std::runtime_error(path.string() + ": cannot be written");
    }
  }
  return 0;
}

int check(const Findings& findings, const fs::path& project)
{
  std::string trouble = missed(findings);
  for (const auto& [path, text] : files(findings, project)) {
    if (text_of(path) != text) {
      trouble += path.string() + " is not up to date; run validate_tables write\n";
    }
  }
  const Figures f = figures_of(findings.left.at(Left::row));
  std::cout << fmt::format(
      "{} outside comparisons; {} rows left out one by one: median {:.2f} %, {:.1f} % within 1.5 %, "
      "{:.1f} % in their band\n",
      findings.outside.size(), f.rows, 100 * f.median, 100 * f.within, 100 * f.held);
  std::cerr << trouble;
  return trouble.empty() ? 0 : 1;
}

}  // namespace

int main(int count, char** words)
{
  const std::string task = count == 3 ? words[2] : "";
  if (task != "check" && task != "write") {
    std::cerr << "usage: validate_tables PROJECT check|write\n";
    return 2;
  }
  try {
    const fs::path project = words[1];
    const Findings findings = find(bilancetta::built_in_tables(), (project / "tests").string());
    return task == "check" ? check(findings, project) : write(findings, project);
  } catch (const std::exception& error) {
    std::cerr << error.what() << '\n';
    return 2;
  }
}
