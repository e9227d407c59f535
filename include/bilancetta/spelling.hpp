#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace bilancetta
{

/// A name without what spelling may vary: lower case, hyphens for blanks and underscores, none at the end.
std::string folded(std::string_view name);
/// folded(a) == folded(b), without making either.
bool same_name(std::string_view a, std::string_view b);

/// Fewest letters to put in, take out or replace to make one of the other (Levenshtein 1966).
int edit_distance(std::string_view a, std::string_view b);

/// The five of the known names that are nearest to a misspelt one by edit distance of the folded names, for messages.
std::string nearest_names(std::string_view name, std::vector<std::string> known);

/// The known name that was probably meant by one that is not known: spelt with one letter more, less or other or two
/// swapped (or two such letters in a name of more than five), or without the unit at its end. Empty if there is none.
std::string close_name(std::string_view name, const std::vector<std::string>& known);

/// A key and how people call it: "c11000", "electrolytic copper".
struct NamedKey {
  std::string key, spoken;
  std::vector<std::string> also = {};  ///< other names
};
/// The five keys of which a name or any word of the spoken one is nearest, each once and with the spoken name in
/// brackets.
std::string nearest_keys(std::string_view name, const std::vector<NamedKey>& known);

}  // namespace bilancetta
