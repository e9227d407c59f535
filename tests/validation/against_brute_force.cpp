// Do the tables give what brute force gives? Evidence, bands of every main fraction and the silver that batches read,
// for hypotheses of every kind, weighings from very fine to useless, typical and tail densities.
//
// usage: against_brute_force [quick|spread|all|WORD...]      prints a section of docs/validation.md; exit 1 beyond the
// bars
//
// quick: the middle hypothesis of each kind, at its likeliest density and where 2.5 % and 97.5 % of pieces lie below;
// for u = 1 as far out as the evidence is above 1/800 of its highest, where the curve's tail is all that meets it.
// spread, all: many or all hypotheses, as far out as that for every uncertainty; WORD: those with it in their name,
// such as the key of a new material.

#include <fmt/core.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstring>
#include <map>
#include <thread>

#include "compared_hypotheses.hpp"
#include "referee.hpp"

using namespace bilancetta;
using namespace validation;

namespace
{

constexpr double evidence_bar = 0.05;
constexpr double band_bar = 0.01;
// Constituents whose band never reaches this are not compared.
constexpr double main_fraction = 0.005;

// Departures of one kind of hypothesis at one standard uncertainty.
struct Departures {
  std::vector<double> evidence, bands, batches;
  int beyond = 0, short_of_draws = 0;
};
using Results = std::map<std::pair<std::string, double>, Departures>;

std::vector<int> constituents_of(const Tables& tables, const Hypothesis& h)
{
  std::vector<int> all;
  for (int c = 0; c < static_cast<int>(tables.constituents.size()); ++c) {
    if (holds(h, c)) {
      all.push_back(c);
    }
  }
  return all;
}

// The larger departure of the two ends of a band, beyond what the draws leave open.
double worst_end(const referee::Ends& ours, const referee::BruteAnswer& brute, std::size_t c)
{
  return std::max(referee::departure_of(ours.low, brute.least[c].low, brute.most[c].low),
                  referee::departure_of(ours.high, brute.least[c].high, brute.most[c].high));
}

void compare(const Tables& tables, const Compared& one, const Member& member, double density,
             const std::vector<double>& uncertainties, unsigned seed, Results& results)
{
  const std::vector<int> constituents = constituents_of(tables, one.hypothesis);
  const int silver = find_constituent(tables, "Ag");
  const auto all = referee::brute_force(one.hypothesis, density, uncertainties, constituents, seed);
  for (std::size_t k = 0; k < all.size(); ++k) {
    const double u = uncertainties[k];
    const referee::BruteAnswer& brute = all[k];
    const referee::Answer ours = referee::by_tables(member, density, u, constituents);
    Departures& departures = results[{one.kind, u}];
    if (brute.effective_draws < 40000.0) {
      ++departures.short_of_draws;
      fmt::print(stderr, "{} {} at {:.4f} +- {}: {:.0f} effective draws\n", one.kind, one.name, density, u,
                 brute.effective_draws);
      continue;
    }
    const double evidence = std::abs(ours.evidence / brute.evidence - 1.0);
    double bands = 0.0;
    double batches = 0.0;
    for (std::size_t c = 0; c < constituents.size(); ++c) {
      if (std::max(brute.bands[c].high, ours.bands[c].high) > main_fraction) {
        bands = std::max(bands, worst_end(ours.bands[c], brute, c));
        if (constituents[c] == silver) {
          batches = worst_end(referee::silver_as_in_batches(member, density, u), brute, c);
        }
      }
    }
    departures.evidence.push_back(evidence);
    departures.bands.push_back(bands);
    departures.batches.push_back(batches);
    if (evidence > evidence_bar || bands > band_bar || batches > band_bar) {
      ++departures.beyond;
      fmt::print(stderr,
                 "{} {} ({} variables) at {:.4f} +- {}: evidence {:.5g} against {:.5g} ({:+.1f} %), bands {:.4f}, "
                 "batches {:.4f}\n",
                 one.kind, one.name, one.hypothesis.variables, density, u, ours.evidence, brute.evidence,
                 100.0 * (ours.evidence / brute.evidence - 1.0), bands, batches);
    }
  }
}

Results together(const std::vector<Results>& each)
{
  Results all;
  const auto append = [](std::vector<double>& to, const std::vector<double>& from) {
    to.insert(to.end(), from.begin(), from.end());
  };
  for (const Results& one : each) {
    for (const auto& [key, own] : one) {
      Departures& sum = all[key];
      append(sum.evidence, own.evidence);
      append(sum.bands, own.bands);
      append(sum.batches, own.batches);
      sum.beyond += own.beyond;
      sum.short_of_draws += own.short_of_draws;
    }
  }
  return all;
}

std::string median_and_worst(std::vector<double> values, double factor, int decimals)
{
  if (values.empty()) {
    return " | ";
  }
  std::sort(values.begin(), values.end());
  return fmt::format("{:.{}f} | {:.{}f}", factor * values[values.size() / 2], decimals, factor * values.back(),
                     decimals);
}

// Returns whether everything stayed within the bars.
bool print(const Results& results, std::size_t hypotheses)
{
  int compared = 0;
  int beyond = 0;
  int lacking = 0;
  for (const auto& [key, departures] : results) {
    compared += static_cast<int>(departures.evidence.size());
    beyond += departures.beyond;
    lacking += departures.short_of_draws;
  }
  fmt::print(
      "{} hypotheses, {} comparisons; {} beyond the bars, {} without 40,000 effective draws. Departures are taken from "
      "the range of two standard errors of the draws.\n\n",
      hypotheses, compared, beyond, lacking);
  fmt::print(
      "| kind | u, g/cm3 | comparisons | evidence, %, median | worst | band ends, median | worst | silver in batches, "
      "median | worst |\n|---|---|---|---|---|---|---|---|---|\n");
  for (const char* kind : compared_kinds) {
    for (const auto& [key, departures] : results) {
      if (key.first == kind) {
        fmt::print("| {} | {} | {} | {} | {} | {} |\n", kind, key.second, departures.evidence.size(),
                   median_and_worst(departures.evidence, 100.0, 2), median_and_worst(departures.bands, 1.0, 4),
                   median_and_worst(departures.batches, 1.0, 4));
      }
    }
  }
  return compared > 0 && beyond == 0 && lacking == 0;
}

}  // namespace

// As the words of the command line ask.
static std::vector<Compared> chosen(const Tables& tables, const std::vector<std::string>& words)
{
  if (words.empty() || words[0] == "quick" || words[0] == "spread") {
    return spread_of_hypotheses(tables, !words.empty() && words[0] == "quick" ? 1 : 5);
  }
  std::vector<Compared> all = all_hypotheses(tables);
  std::erase_if(all, [&](const Compared& one) {
    return words[0] != "all" && std::none_of(words.begin(), words.end(), [&](const std::string& word) {
             return one.name.find(word) != std::string::npos;
           });
  });
  return all;
}

int main(int argc, char** argv)
{
  const Tables& tables = built_in_tables();
  const bool quick = argc > 1 && std::strcmp(argv[1], "quick") == 0;
  const std::vector<double> uncertainties =
      quick ? std::vector<double>{0.03, 0.3} : std::vector<double>{0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0};
  const std::vector<Compared> hypotheses = chosen(tables, {argv + 1, argv + argc});
  std::vector<Results> results(hypotheses.size());
  std::atomic<std::size_t> next = 0;
  const auto work = [&] {
    for (std::size_t i = next++; i < hypotheses.size(); i = next++) {
      const Hypothesis& hypothesis = hypotheses[i].hypothesis;
      const Member member = member_of(tables, hypothesis, Member::Serves::both);
      const DensityPilot pilot(hypothesis);
      unsigned seed = 1000 * static_cast<unsigned>(i) + 1;
      for (const double density : pilot.typical_densities()) {
        compare(tables, hypotheses[i], member, density, uncertainties, seed++, results[i]);
      }
      for (const double u : quick ? std::vector<double>{1.0} : uncertainties) {
        for (const double density : pilot.outermost_densities(u)) {
          compare(tables, hypotheses[i], member, density, {u}, seed++, results[i]);
        }
      }
    }
  };
  std::vector<std::jthread> helpers;
  for (unsigned k = 1; k < std::thread::hardware_concurrency(); ++k) {
    helpers.emplace_back(work);
  }
  work();
  helpers.clear();
  return print(together(results), hypotheses.size()) ? 0 : 1;
}
