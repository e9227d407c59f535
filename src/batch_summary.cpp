#include "batch_summary.hpp"

#include <fmt/core.h>

#include <any>
#include <cmath>

#include "bilancetta/jar_report.hpp"
#include "json_number.hpp"
#include "report_words.hpp"

namespace bilancetta
{

void add_to(Jar& jar, const Chunk& chunk)
{
  for (const auto& row : *std::any_cast<std::vector<std::optional<JarRow>>>(&chunk.made)) {
    if (row) {
      jar.add(*row);
    } else {
      jar.add_unusable();
    }
  }
}

namespace
{

// A row of sums that nothing names. Weights of a sheet add up exactly; the air's lift differs by piece.
bool ends_with_its_sum(const JarSummary& jar)
{
  constexpr double lift = 3e-4;  // the share that the lift is of a light metal's weight, and of a heavy one's less
  return jar.pieces > 2 && std::abs(2.0 * jar.last_row_g - jar.mass_g) < lift * jar.mass_g;
}

}  // namespace

std::string summary_of(const BatchShared& shared, const Jar& jar, const FinestDecimals& finest)
{
  const BatchOptions& options = shared.options;
  JarOptions how{options.verdict.level, options.verdict.prices, {}};
  std::vector<std::string> remarks;
  if (shared.sitting) {
    how.shared_covariance = shared.sitting->covariance;
    remarks = remarks_of(*shared.sitting);
  }
  if (shared.mix) {
    remarks.emplace_back(
        "The mix of materials was learned from the jar itself (--learn); no hazard was made smaller by that. Many "
        "pieces of a metal that the tables do not have can teach it something wrong: test a few of the most common "
        "ones.");
  }
  if (finest.of_all() > 0) {
    remarks.push_back(fmt::format(
        "Weights were read as of a scale that shows {} g{}, the finest decimals in {}, where no option or column says "
        "otherwise.",
        scale_of_decimals(finest.of_two_scales() ? finest.dry : finest.of_all()).readability_g,
        finest.of_two_scales() ? fmt::format(" and those in the liquid as of one that shows {} g",
                                             scale_of_decimals(finest.in_liquid).readability_g)
                               : "",
        finest.of_two_scales() ? "their columns" : "the file"));
  }
  const Tables& tables = shared.prepared.tables();
  const auto& members = shared.prepared.members_of_any_size();
  const JarSummary summary = jar.summary(how);
  if (ends_with_its_sum(summary)) {
    remarks.emplace_back(
        "The last row weighs as much as all others together. If it is the sheet's totals line, take it out: it is "
        "counted here as a piece, and so everything twice.");
  }
  if (options.summary == Summary::text) {
    std::string text = jar_summary_text(tables, members, summary);
    for (const std::string& remark : remarks) {
      text += "\n" + wrapped(remark);
    }
    return text;
  }
  Json json = Json::parse(jar_summary_json(tables, members, summary));
  json["sitting"] = nullptr;
  if (shared.sitting) {
    json["sitting"] = Json::array();
    for (int i = 0; i < shared_error_count; ++i) {
      const SharedEstimate& e = shared.sitting->shared[i];
      const auto error = static_cast<SharedError>(i);
      json["sitting"].push_back({{"shared", name_of(error)},
                                 {"unit", unit_of(error)},
                                 {"value", number(e.value)},
                                 {"standard_uncertainty", number(e.standard_uncertainty)},
                                 {"before", number(e.prior_u)}});
    }
  }
  json["remarks"] = remarks;
  return json_text(json, 1) + "\n";
}

}  // namespace bilancetta
