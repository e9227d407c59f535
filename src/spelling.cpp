#include "bilancetta/spelling.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "words.hpp"

namespace bilancetta
{

namespace
{

bool is_gap(char c)
{
  return c == '_' || c == ' ' || c == '-';
}

std::string_view without_gap_at_end(std::string_view name)
{
  while (!name.empty() && is_gap(name.back())) {
    name.remove_suffix(1);
  }
  return name;
}

char folded_letter(char c)
{
  return is_gap(c) ? '-' : static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
}

}  // namespace

std::string folded(std::string_view name)
{
  std::string result(without_gap_at_end(name));
  std::transform(result.begin(), result.end(), result.begin(), folded_letter);
  return result;
}

bool same_name(std::string_view a, std::string_view b)
{
  a = without_gap_at_end(a);
  b = without_gap_at_end(b);
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [](char x, char y) { return folded_letter(x) == folded_letter(y); });
}

int edit_distance(std::string_view a, std::string_view b)
{
  std::vector<int> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) {
    row[j] = static_cast<int>(j);
  }
  for (std::size_t i = 1; i <= a.size(); ++i) {
    int diagonal = row[0];
    row[0] = static_cast<int>(i);
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const int replaced = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({replaced, row[j] + 1, row[j - 1] + 1});
    }
  }
  return row.back();
}

namespace
{

constexpr std::size_t most = 5;

// Its words in the order of the alphabet.
std::string in_order(std::string name)
{
  std::replace(name.begin(), name.end(), '-', ' ');
  std::vector<std::string_view> words;
  for_each_word(name, [&](std::string_view word) { words.push_back(word); });
  std::sort(words.begin(), words.end());
  return fmt::format("{}", fmt::join(words, "-"));
}

// Of folded names; words that were put the other way round count as one slip.
int distance_between(const std::string& a, const std::string& b)
{
  return std::min(edit_distance(a, b), 1 + edit_distance(in_order(a), in_order(b)));
}

}  // namespace

std::string nearest_names(std::string_view name, std::vector<std::string> known)
{
  const std::string wanted = folded(name);
  std::sort(known.begin(), known.end());
  known.erase(std::unique(known.begin(), known.end()), known.end());
  std::stable_sort(known.begin(), known.end(), [&](const auto& a, const auto& b) {
    return distance_between(wanted, folded(a)) < distance_between(wanted, folded(b));
  });
  std::string nearest;
  for (std::size_t i = 0; i < std::min(known.size(), most); ++i) {
    nearest += (i ? ", " : "") + known[i];
  }
  return nearest;
}

std::string close_name(std::string_view name, const std::vector<std::string>& known)
{
  constexpr std::size_t longest_unit = 4;
  constexpr std::size_t short_name = 5;
  const std::string wanted = folded(name);
  int nearest = wanted.size() > short_name ? 3 : 2;
  std::string meant;
  for (const std::string& one : known) {
    const std::string whole = folded(one);
    const std::size_t unit = std::min(whole.find_last_of('-'), whole.size());
    const bool without_unit = whole.size() - unit <= longest_unit + 1 && wanted == whole.substr(0, unit);
    int distance = without_unit ? 0 : distance_between(wanted, whole);
    if (distance == 2 && wanted.size() == whole.size() &&
        std::is_permutation(wanted.begin(), wanted.end(), whole.begin())) {
      distance = 1;
    }
    if (distance < nearest) {
      nearest = distance;
      meant = one;
    }
  }
  return meant;
}

std::string nearest_keys(std::string_view name, const std::vector<NamedKey>& known)
{
  const std::string wanted = folded(name);
  std::vector<std::pair<int, const NamedKey*>> ranked;
  for (const NamedKey& one : known) {
    int distance = std::min(distance_between(wanted, folded(one.key)), distance_between(wanted, folded(one.spoken)));
    for (const std::string& other : one.also) {
      distance = std::min(distance, distance_between(wanted, folded(other)));
    }
    // A single word that fits comes after a whole name that fits.
    for_each_word(one.spoken, [&](std::string_view word) {
      distance = std::min(distance, 1 + edit_distance(wanted, folded(word)));
    });
    ranked.emplace_back(distance, &one);
  }
  std::stable_sort(ranked.begin(), ranked.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  std::vector<std::string> told;
  std::string nearest;
  for (const auto& [distance, one] : ranked) {
    if (told.size() < most && std::find(told.begin(), told.end(), one->key) == told.end()) {
      nearest += fmt::format("{}{} ({})", told.empty() ? "" : ", ", one->key, one->spoken);
      told.push_back(one->key);
    }
  }
  return nearest;
}

}  // namespace bilancetta
