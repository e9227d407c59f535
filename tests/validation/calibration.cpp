// Are probabilities, ranks and bands what they say? Pieces are drawn from the model's own prior, weighed on simulated
// scales and put through the same inference as a piece of a user (simulation-based calibration, Talts et al. 2018,
// arXiv:1804.06788).
//
// usage: calibration [PIECES [DESCRIBED [PICTURES]]]
//
// All pieces serve probabilities, density and silver as batches give it; DESCRIBED of them, and as
// many more for each fraction, the fractions by weighed draws too. Prints a section of docs/validation.md, writes its
// pictures into the directory PICTURES; exit 1 below the bars.

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <fstream>

#include "calibration_tally.hpp"

using namespace bilancetta;
using namespace validation;

namespace
{

constexpr double error_bar = 0.02;
constexpr double least_p_value = 0.001;

// Returns whether the bar holds.
bool print_coverage(const char* what, const Coverage& coverage, double low, double high)
{
  const bool good = coverage.cases() > 0 && coverage.within(low, high);
  fmt::print("| {} | {:.0f} | {:.2f} | {} to {}{} |\n", what, coverage.cases(), coverage.percent(), low, high,
             good ? "" : " **outside**");
  return good;
}

bool print_bands(const Tally& tally)
{
  fmt::print("\n| 95 % band of | cases | held, % | bar |\n|---|---|---|---|\n");
  bool good = print_coverage("density", tally.density, 94, 96);
  good = print_coverage("fractions given the true hypothesis", tally.own, 94, 96) && good;
  good = print_coverage("silver fraction, batch", tally.batch_silver, 94, 100) && good;
  good = print_coverage("silver grams, batch", tally.batch_grams, 94, 100) && good;
  for (std::size_t k = 0; k < reported.size(); ++k) {
    good = print_coverage(reported[k], tally.bands[k], 94, 100) && good;
  }
  good = print_coverage("silver fraction, batch, open", tally.open_batch_silver, 94, 97) && good;
  good = print_coverage("silver grams, open", tally.open_grams, 94, 96) && good;
  for (std::size_t k = 0; k < reported.size(); ++k) {
    good = print_coverage((reported[k] + std::string(", open")).c_str(), tally.open_bands[k], 94, 97) && good;
  }
  fmt::print(
      "\nBands are averaged over all hypotheses. A posterior with much at exactly 0 has only one end to be outside of, "
      "and its band holds more than 95 %. Open: pieces drawn from the hypotheses that hold the constituent, known as "
      "such, where less than 0.1 % is left at exactly 0 or 1.\n");
  return good;
}

bool print_ranks(const Tally& tally)
{
  fmt::print(
      "\nRanks of the true fraction in its stated distribution, ties at exactly 0 and within a bin broken at random; "
      "chi-square over {} bins:\n\n| fraction | cases | p-value |\n|---|---|---|\n",
      RankHistogram::bins);
  bool good = true;
  const auto row = [&](const std::string& name, const RankHistogram& ranks) {
    const double p = ranks.p_value();
    good = good && ranks.cases() > 0 && p >= least_p_value;
    fmt::print("| {} | {:.0f} | {:.3f}{} |\n", name, ranks.cases(), p, p >= least_p_value ? "" : " **not even**");
  };
  row("Ag, batch", tally.batch_ranks);
  for (std::size_t k = 0; k < reported.size(); ++k) {
    row(reported[k], tally.ranks[k]);
    row(reported[k] + std::string(", open"), tally.open_ranks[k]);
  }
  return good;
}

bool print_reliabilities(const Tally& tally)
{
  bool good = true;
  const auto row = [&](const std::string& what, const Reliability& reliability) {
    reliability.print(what);
    good = good && reliability.expected_error() <= error_bar + reliability.error_by_chance();
  };
  row("Builds (solid, plated, inlay, other)", tally.builds);
  row("The first candidate", tally.first);
  row("All candidates (the first five and those of 1 % or more)", tally.candidates);
  for (std::size_t k = 0; k < reported.size(); ++k) {
    row(std::string("No ") + reported[k] + " at all", tally.none[k]);
  }
  return good;
}

void write_pictures(const Tally& tally, const std::string& directory)
{
  const auto write = [&](const std::string& name, const Picture& picture) {
    std::ofstream(directory + "/" + name + ".svg") << svg_of(picture);
    fmt::print("![{}](pictures/{}.svg)\n", picture.title, name);
  };
  fmt::print("\nDots in the bands' reach are what chance allows (ranks: 99 %; probabilities: 0.02).\n\n");
  write("reliability-builds", tally.builds.picture("Builds"));
  write("reliability-first", tally.first.picture("The first candidate"));
  write("reliability-candidates", tally.candidates.picture("All candidates"));
  write("reliability-no-silver", tally.none[0].picture("No silver at all"));
  write("ranks-ag-batch", tally.batch_ranks.picture("Silver, batch"));
  for (std::size_t k = 0; k < reported.size(); ++k) {
    std::string name = reported[k];
    std::transform(name.begin(), name.end(), name.begin(), [](unsigned char c) { return std::tolower(c); });
    write("ranks-" + name, tally.ranks[k].picture(reported[k]));
    write("ranks-" + name + "-open",
          tally.open_ranks[k].picture(reported[k] + std::string(", pieces known to hold it")));
  }
}

// What is left of a context where the piece is known to hold a constituent beside others.
Background holding(const Tables& tables, const Members& members, Background background, const char* constituent)
{
  double total = 0.0;
  for (std::size_t i = 0; i < members.size(); ++i) {
    const Hypothesis& h = members[i]->hypothesis;
    const bool mixed = h.outer.size + h.inner.size > 1;
    background.prior[i] *= mixed && holds(h, find_constituent(tables, constituent)) ? 1.0 : 0.0;
    total += background.prior[i];
  }
  for (double& prior : background.prior) {
    prior /= total;
  }
  return background;
}

// Every so many pieces at one place are described.
void try_place(const Prepared& prepared, const char* place, int pieces, int described, PieceSource& source,
               Tally& tally)
{
  const Tables& tables = prepared.tables();
  const auto& members = prepared.members(0.1);
  Context context;
  context.place = place;
  context.form = Form::unsure;
  const Background background = background_of(prepared, members, context);
  for (int i = 0; i < pieces; ++i) {
    Inferred inferred = inferred_piece(prepared, background, source);
    count_piece(tables, inferred, source, tally);
    if (i < described) {
      count_fractions(tables, inferred, source, tally);
    }
  }
  for (std::size_t k = 0; k < reported.size(); ++k) {
    const Background known = holding(tables, members, background, reported[k]);
    for (int i = 0; i < described; ++i) {
      count_open(tables, inferred_piece(prepared, known, source), k, source, tally);
    }
  }
}

}  // namespace

int main(int argc, char** argv)
{
  const int pieces = argc > 1 ? std::atoi(argv[1]) : 20000;
  const int described = argc > 2 ? std::atoi(argv[2]) : 100;
  const Prepared prepared(built_in_tables());
  PieceSource source(prepared.tables(), 77);
  Tally tally;
  for (const char* place : {"unknown", "breaker", "relay", "tableware"}) {
    try_place(prepared, place, pieces / 4, described / 4, source, tally);
  }
  fmt::print(
      "{:.0f} pieces at four places, pocket and jeweller's scales, 0.3 to 20 g, weighed once; {:.0f} of them with all "
      "fractions, and as many more for each fraction that are known to hold it.\n",
      tally.density.cases(), tally.ranks[0].cases());
  const bool bands = print_bands(tally);
  const bool ranks = print_ranks(tally);
  const bool reliable = print_reliabilities(tally);
  if (argc > 3) {
    write_pictures(tally, argv[3]);
  }
  return bands && ranks && reliable ? 0 : 1;
}
