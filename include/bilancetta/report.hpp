#pragma once

#include <string>

#include "bilancetta/verdict.hpp"

namespace bilancetta
{

/// How a report names itself; tests hide the version.
struct ReportHeading {
  std::string version;
  std::string tables_checksum;
  std::vector<std::string> assumed;  ///< defaults that were used, in words
};
std::string_view program_version();

/// For a person: one plain sentence first, one thing to do last, readable at 80 columns.
std::string text_report(const Tables& tables, const Piece& piece, const Verdict& verdict, const ReportHeading& heading);

/// The JSON object of one piece (docs/cli.md). `indent` < 0 gives one line.
std::string json_report(const Tables& tables, const Piece& piece, const Verdict& verdict, const ReportHeading& heading,
                        int indent = 1);

/// Unlike pieces weighed together: their mean density and nothing more, but what the place warns of.
std::string text_of_mixed(const Tables& tables, const Piece& piece, const Analysis& analysis,
                          const ReportHeading& heading);
std::string json_of_mixed(const Tables& tables, const Piece& piece, const Analysis& analysis, int indent = 1);

/// The object of a row that could not be used.
std::string json_error(const std::string& piece, const std::string& message);

/// One value of that object by its path, such as candidates.0.material. @throws Error (bad_option) if
/// there is no such value.
std::string json_value(const std::string& json, const std::string& path);

/// The tables as JSON (docs/cli.md), of the materials only these.
std::string json_tables(const Tables& tables, const std::vector<const Material*>& materials, int indent = 1);
/// One material as it stands there, and a list of several.
std::string json_material(const Tables& tables, const Material& material, int indent = 1);
std::string json_materials(const Tables& tables, const std::vector<const Material*>& materials, int indent = 1);

}  // namespace bilancetta
