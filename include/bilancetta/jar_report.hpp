#pragma once

#include <string>

#include "bilancetta/jar.hpp"

namespace bilancetta
{

/// What a jar holds, for a person: whole sentences, readable at 80 columns. @param members  as the rows' analyses had
/// them, to name what a lot may be
std::string jar_summary_text(const Tables& tables, const Members& members, const JarSummary& summary);

/// The same as one JSON object (docs/cli.md).
std::string jar_summary_json(const Tables& tables, const Members& members, const JarSummary& summary, int indent = 1);

}  // namespace bilancetta
