// The claim check against simulated weighings: how often a true claim is called inconsistent (at most 1 % is allowed),
// and how often usual false pieces are called consistent. Claims are all of tables/claims.toml that name materials.
//
// usage: claims [WEIGHINGS]       weighings of each claim on each scale; prints a section of docs/validation.md; exit 1
//                                 if true claims are refused too often

#include <fmt/core.h>

#include <cstdlib>
#include <map>

#include "bilancetta/claim.hpp"
#include "simulated_weighing.hpp"

using namespace bilancetta;

namespace
{

struct Count {
  int weighings = 0, consistent = 0, inconsistent = 0;

  void add(ClaimResult result)
  {
    ++weighings;
    consistent += result == ClaimResult::consistent ? 1 : 0;
    inconsistent += result == ClaimResult::inconsistent ? 1 : 0;
  }
  [[nodiscard]] std::string percentages() const
  {
    return fmt::format("{} | {:.2f} | {:.2f} | {:.2f}", weighings, 100.0 * consistent / weighings,
                       100.0 * (weighings - consistent - inconsistent) / weighings, 100.0 * inconsistent / weighings);
  }
};

class Trial
{
 public:
  explicit Trial(const Prepared& prepared) : prepared_(&prepared), tables_(&prepared.tables()) {}

  // A solid piece of a material, weighed and held against the claim.
  ClaimResult result_of(const Claim& claim, int material, const Scale& scale, double each_g)
  {
    Piece piece;
    piece.claim = claim.key;
    piece.context.form = Form::solid;
    const double density = simulation_.density_of(solid_hypothesis(*tables_, material));
    piece.weighing = simulation_.weighed(scale, each_g, density);
    Analysis a = weigh_up(piece.weighing, 0.95);
    const auto& members = prepared_->members(coat_volume_cm3(a, piece.weighing));
    // Odds play no part in a claim's verdict: only what it predicts does.
    static const Background background = background_of(*prepared_, members, piece.context);
    hold_against(a, members, background, false);
    return claim_ruling_of(*tables_, a, piece, Opposites::as_needed).result;
  }

  // A material that makes the claim true, as common as any other that does.
  int true_material(const Claim& claim)
  {
    return claim.materials[simulation_.index(std::vector<double>(claim.materials.size(), 1.0))];
  }
  double drawn_weight() { return std::exp(simulation_.uniform(std::log(0.5), std::log(50.0))); }

 private:
  const Prepared* prepared_;
  const Tables* tables_;
  Simulation simulation_{2718};
};

const std::map<std::string, std::string>& impostor_words()
{
  static const std::map<std::string, std::string> words = {{"c75200", "nickel silver"}, {"c77000", "nickel silver"},
                                                           {"c26000", "brass"},         {"c11000", "copper"},
                                                           {"pewter", "tin alloy"},     {"sn-pb-60", "tin alloy"}};
  return words;
}

struct Counts {
  std::map<std::string, Count> true_by_claim, true_by_scale;
  std::map<std::string, std::map<std::string, Count>> false_by_scale;
  Count all;
};

Counts counted(const Tables& tables, int weighings)
{
  const Prepared prepared(tables);
  Trial trial(prepared);
  Counts counts;
  for (const Claim& claim : tables.claims) {
    if (claim.materials.empty()) {
      continue;  // silver plate: true of nearly every density
    }
    for (const ScaleClass scale_class : {ScaleClass::pocket, ScaleClass::jeweller, ScaleClass::laboratory}) {
      const std::string scale(name_of(scale_class));
      for (int i = 0; i < weighings; ++i) {
        const ClaimResult result =
            trial.result_of(claim, trial.true_material(claim), scale_of(scale_class), trial.drawn_weight());
        counts.true_by_claim[claim.key].add(result);
        counts.true_by_scale[scale].add(result);
        counts.all.add(result);
      }
      for (const int opposite : claim.opposites) {
        const auto word = impostor_words().find(tables.materials[opposite].key);
        const std::string words = word == impostor_words().end() ? "a lower fineness or another metal" : word->second;
        for (int i = 0; i < std::max(weighings / 10, 1); ++i) {
          counts.false_by_scale[words][scale].add(
              trial.result_of(claim, opposite, scale_of(scale_class), trial.drawn_weight()));
        }
      }
    }
  }
  return counts;
}

void print(const Counts& counts)
{
  fmt::print("Solid pieces of 0.5 to 50 g, weighed once; percent of weighings.\n\n");
  fmt::print("| true claim | weighings | consistent | cannot tell | inconsistent |\n|---|---|---|---|---|\n");
  for (const auto& [key, count] : counts.true_by_claim) {
    fmt::print("| {} | {} |\n", key, count.percentages());
  }
  for (const auto& [scale, count] : counts.true_by_scale) {
    fmt::print("| all, {} scale | {} |\n", scale, count.percentages());
  }
  fmt::print("| all | {} |\n\n", counts.all.percentages());
  fmt::print(
      "| false claim: it is | scale | weighings | consistent | cannot tell | inconsistent "
      "|\n|---|---|---|---|---|---|\n");
  for (const auto& [words, by_scale] : counts.false_by_scale) {
    for (const auto& [scale, count] : by_scale) {
      fmt::print("| {} | {} | {} |\n", words, scale, count.percentages());
    }
  }
}

// Chance alone may add three standard errors.
bool hardly_refused(const Count& count)
{
  const double allowed = 0.01 + 3.0 * std::sqrt(0.01 * 0.99 / count.weighings);
  return static_cast<double>(count.inconsistent) / count.weighings <= allowed;
}

}  // namespace

int main(int argc, char** argv)
{
  const Counts counts = counted(built_in_tables(), argc > 1 ? std::atoi(argv[1]) : 300);
  print(counts);
  bool good = hardly_refused(counts.all);
  for (const auto* some : {&counts.true_by_claim, &counts.true_by_scale}) {
    for (const auto& [key, count] : *some) {
      good = good && hardly_refused(count);
    }
  }
  return good ? 0 : 1;
}
