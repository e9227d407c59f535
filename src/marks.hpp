#pragma once

#include <string>
#include <string_view>

namespace bilancetta
{

/// A mark without what its spelling may vary: zeros before a fineness ("0925", "0.925") and blanks before the letter of
/// a karat ("14 K").
std::string plain_mark(std::string_view name);

/// The mark of a coat without what it says of the coat, its karat and its share of the weight: "gf" of "1/20 12K G.F.".
std::string mark_of_coat(std::string_view name);

}  // namespace bilancetta
