#include "bilancetta/spelling.hpp"

#include <fmt/format.h>

#include <algorithm>

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
  return is_gap(c) ? '-' : lower_letter(c);
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

// A name that is not known, folded. No known name is longer than what is kept of it: a cell may hold a megabyte.
class Wanted
{
 public:
  explicit Wanted(std::string_view name) : name_(folded(name.substr(0, longest))), in_order_(in_order(name_)) {}

  [[nodiscard]] const std::string& name() const { return name_; }
  // From a folded name; words that were put the other way round count as one slip.
  [[nodiscard]] int distance_to(const std::string& other) const
  {
    const int as_written = edit_distance(name_, other);
    const bool one_word = name_.find('-') == std::string::npos;
    return one_word ? as_written : std::min(as_written, 1 + edit_distance(in_order_, in_order(other)));
  }

 private:
  static constexpr std::size_t longest = 64;

  std::string name_, in_order_;
};

}  // namespace

std::string nearest_names(std::string_view name, std::vector<std::string> known)
{
  const Wanted wanted(name);
  std::vector<std::pair<int, std::string>> ranked;
  ranked.reserve(known.size());
  for (std::string& one : known) {
    const int distance = wanted.distance_to(folded(one));
    ranked.emplace_back(distance, std::move(one));
  }
  std::sort(ranked.begin(), ranked.end());
  ranked.erase(std::unique(ranked.begin(), ranked.end()), ranked.end());
  std::string nearest;
  for (std::size_t i = 0; i < std::min(ranked.size(), most); ++i) {
    nearest += (i ? ", " : "") + ranked[i].second;
  }
  return nearest;
}

std::string close_name(std::string_view name, const std::vector<std::string>& known)
{
  constexpr std::size_t longest_unit = 4;
  constexpr std::size_t short_name = 5;
  const Wanted meant_by(name);
  const std::string& wanted = meant_by.name();
  int nearest = wanted.size() > short_name ? 3 : 2;
  std::string meant;
  for (const std::string& one : known) {
    const std::string whole = folded(one);
    const std::size_t unit = std::min(whole.find_last_of('-'), whole.size());
    const bool without_unit = whole.size() - unit <= longest_unit + 1 && wanted == whole.substr(0, unit);
    int distance = without_unit ? 0 : meant_by.distance_to(whole);
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
  const Wanted wanted(name);
  std::vector<std::pair<int, const NamedKey*>> ranked;
  for (const NamedKey& one : known) {
    int distance = std::min(wanted.distance_to(folded(one.key)), wanted.distance_to(folded(one.spoken)));
    for (const std::string& other : one.also) {
      distance = std::min(distance, wanted.distance_to(folded(other)));
    }
    // A single word that fits comes after a whole name that fits.
    for_each_word(one.spoken, [&](std::string_view word) {
      distance = std::min(distance, 1 + edit_distance(wanted.name(), folded(word)));
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
