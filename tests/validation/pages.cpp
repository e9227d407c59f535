#include "pages.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

using namespace bilancetta;

namespace validation
{

namespace
{

const char* const agreement_names[] = {"agrees", "known", "DIFFERS"};

std::string figures_line(const std::string& name, const Figures& f)
{
  return fmt::format("| {} | {} | {:.2f} % | {:.1f} % | {:.1f} % | {} ({} without a reason) |\n", name, f.rows,
                     100 * f.median, 100 * f.within, 100 * f.held, f.beyond, f.unsaid);
}

std::string figures_table(const Findings& findings)
{
  std::string text =
      "| left out | rows | median of absolute | within 1.5 % | in the 95 % band | beyond 3 % "
      "|\n|---|---|---|---|---|---|\n";
  for (const auto& [left, all] : findings.left) {
    text += figures_line(name_of(left), figures_of(all));
  }
  return text + figures_line("the row, with the specification minima counted", figures_of(findings.beside));
}

std::string kinds_table(const Findings& findings)
{
  std::map<std::string, std::map<Agreement, int>> count;
  for (const Comparison& c : findings.outside) {
    ++count[c.kind][c.agreement];
  }
  std::string text = "| kind | agree | known, with a reason | differ |\n|---|---|---|---|\n";
  for (auto& [kind, n] : count) {
    text +=
        fmt::format("| {} | {} | {} | {} |\n", kind, n[Agreement::agrees], n[Agreement::known], n[Agreement::differs]);
  }
  return text;
}

// Rows that the model misses by more than 1.5 %, or whose band does not hold them.
std::string misses_table(const std::vector<LeftOut>& all)
{
  std::string text =
      "| alloy | system | measured | predicted | 95 % band | off | source | note "
      "|\n|---|---|---|---|---|---|---|---|\n";
  for (const LeftOut& one : all) {
    if (std::abs(one.off()) > 0.015 || !one.held()) {
      text += fmt::format("| {} | {} | {:.2f} | {:.2f} | {:.2f} to {:.2f}{} | {:+.1f} % | {} | {} |\n", one.row->alloy,
                          one.row->system, one.row->density, one.prediction.density, one.prediction.low,
                          one.prediction.high, one.held() ? "" : ", missed", 100 * one.off(), one.row->source,
                          one.row->note);
    }
  }
  return text;
}

std::string comparisons_table(const Findings& findings)
{
  std::string text =
      "| kind | what | outside | ours | outside against ours | tolerance | verdict | source | remark "
      "|\n|---|---|---|---|---|---|---|---|---|\n";
  for (const Comparison& c : findings.outside) {
    text += fmt::format("| {} | {} | {} | {:.4g} | {:+.2f} % | {} | {} | {} | {} |\n", c.kind, c.what, c.outside,
                        c.ours, std::abs(c.off_percent) < 0.005 ? 0.0 : c.off_percent, c.tolerance,
                        agreement_names[static_cast<int>(c.agreement)], c.source, c.reason);
  }
  return text;
}

}  // namespace

Findings find(const Tables& tables, const std::string& tests)
{
  Findings f;
  f.tables = &tables;
  f.rows = read_alloys(tables, tests + "/validation/measured_alloys.csv");
  f.outside = outside_comparisons(tables, tests + "/published");
  for (const Left left : {Left::nothing, Left::row, Left::composition, Left::source}) {
    f.left[left] = leave_out(tables, f.rows, left);
  }
  f.beside = leave_out(tables, f.rows, Left::row, true);
  return f;
}

std::string missed(const Findings& findings)
{
  std::string text;
  const Figures f = figures_of(findings.left.at(Left::row));
  const auto bar = [&](bool reached, const std::string& line) { text += reached ? "" : line + "\n"; };
  bar(static_cast<int>(findings.outside.size()) >= least_comparisons,
      fmt::format("{} outside comparisons; at least {} are wanted", findings.outside.size(), least_comparisons));
  for (const Comparison& c : findings.outside) {
    bar(c.agreement != Agreement::differs,
        fmt::format("{} {}: {} prints {}, ours is {:.4g}", c.kind, c.what, c.source, c.outside, c.ours));
  }
  bar(f.median <= most_median, fmt::format("median {:.2f} % of rows left out is above 0.5 %", 100 * f.median));
  bar(f.within >= least_within, fmt::format("{:.1f} % of rows left out are within 1.5 %, not 80 %", 100 * f.within));
  bar(f.held >= least_held, fmt::format("bands hold {:.1f} % of rows left out, not 90 %", 100 * f.held));
  bar(f.unsaid == 0, fmt::format("{} rows are beyond 3 % without a reason", f.unsaid));
  return text;
}

std::string validation_section(const Findings& findings)
{
  const Figures f = figures_of(findings.left.at(Left::row));
  return fmt::format(
             "## The tables\n\n"
             "Written by `validate_tables write` (tests/validation); a test fails when a figure falls below its bar "
             "or\n"
             "these lines are not what the program writes.\n\n"
             "| bar | wanted | reached |\n|---|---|---|\n"
             "| outside comparisons | at least {} | {} |\n"
             "| median departure of modelled from measured density, the row left out | at most 0.5 % | {:.2f} % |\n"
             "| within 1.5 % | at least 80 % | {:.1f} % |\n"
             "| beyond 3 % without a stated reason | 0 | {} |\n"
             "| in the predicted 95 % band | at least 90 % | {:.1f} % |\n\n",
             least_comparisons, findings.outside.size(), 100 * f.median, 100 * f.within, f.unsaid, 100 * f.held) +
         "### Leaving rows out\n\n"
         "Over alloys and composites only (elements apart), and only systems that the tables use. The model is mixing "
         "with\n"
         "the departure of the system (melted) or the pores of the process (sintered, infiltrated); it is fitted anew "
         "without\n"
         "the rows left out. The band has the composition as given, what is not known of the departure, the scatter of "
         "the\n"
         "system or process, the densities of the constituents and the rounding of the printed number.\n\n" +
         figures_table(findings) +
         "\nThe same alloy is often printed by several sources, and they copy each other: with only the row left out "
         "its twins\n"
         "still speak for it. The lines with its composition or its source left out tell what to expect of a metal "
         "that nobody\n"
         "printed. Where a source is left out that is the only one of its system, the departure is taken as 0 with a "
         "wide band, and\n"
         "some rows are then more than 3 % off (tin bronzes, nickel silvers, aluminium bronzes). A specification "
         "minimum says what a\n"
         "delivery must reach, not what it weighs; those nine tungsten-copper rows are not fitted.\n\n"
         "Rows more than 1.5 % off, or outside their band, with the row left out:\n\n" +
         misses_table(findings.left.at(Left::row)) + "\n### Outside comparisons\n\n" + kinds_table(findings) +
         "\nTolerances and their reasons: the heads of tests/published/*.csv. `known`: the outside figure is wrong or "
         "old, as the\n"
         "remark says. Elements run against the installed packages as well "
         "(tests/published/elements_from_packages.py).\n\n" +
         comparisons_table(findings);
}

}  // namespace validation
