#pragma once

#include <string>

#include "bilancetta/report.hpp"

namespace bilancetta
{

/// The verdict of one piece as a page for a browser or a printer: cautions first, then the sentence and the next step,
/// the curve of density with its band and the first candidates, the candidates, how it may be made, metals with their
/// bands, the budget. One file that asks for nothing over a network and runs no script; light, dark and in print.
/// Every text is escaped, whatever names it holds.
std::string html_report(const Tables& tables, const Piece& piece, const Verdict& verdict, const ReportHeading& heading);

/// Unlike pieces weighed together: their mean density and nothing more.
std::string html_of_mixed(const Tables& tables, const Piece& piece, const Analysis& analysis,
                          const ReportHeading& heading);

}  // namespace bilancetta
