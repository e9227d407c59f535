#include <fmt/ranges.h>

#include <algorithm>
#include <charconv>
#include <cstdlib>
#include <filesystem>

#include "bilancetta/error.hpp"
#include "bilancetta/spelling.hpp"
#include "commands.hpp"

using namespace bilancetta;

namespace
{

// What a variable names; nothing if it is unset, and, as the XDG Base Directory Specification 0.8 has it, if it is
// empty or relative.
std::filesystem::path directory_in(const char* variable)
{
  const char* const value = std::getenv(variable);
  const std::filesystem::path path = value ? value : "";
  return path.is_absolute() ? path : std::filesystem::path();
}

// The file that was named, else the user's own if there is one.
void add_users_settings(const Tables& tables, const ReadingOptions& options, PieceText& text)
{
  if (!options.settings.empty()) {
    add_settings(tables, text, options.settings);
    return;
  }
  const std::filesystem::path config = directory_in("XDG_CONFIG_HOME");
  const std::filesystem::path home = directory_in("HOME");
  const std::filesystem::path base = !config.empty() ? config : home.empty() ? home : home / ".config";
  const std::filesystem::path own = base / "bilancetta" / "settings.toml";
  std::error_code trouble;
  if (!base.empty() && std::filesystem::exists(own, trouble)) {
    add_settings(tables, text, own);
  }
}

// What says nothing without another is refused where it is typed: not in settings, which serve all commands, nor in a
// batch, where a column may give the other.
void refuse_alone(const ReadingOptions& options, const PieceText& text)
{
  struct Companions {
    Field field;
    const char* name;
    Field other;
    const char* what;
  };
  constexpr Companions all[] = {
      {Field::span_u, "--span-u", Field::liquid_scale, "another scale for the liquid (--liquid-scale)"},
      {Field::reference_density_u, "--reference-density-u", Field::reference_density,
       "a known density (--reference-density)"}};
  for (const auto& [field, words] : options.texts) {
    for (const Companions& c : all) {
      if (field == c.field && !words.empty() && text[c.other].empty()) {
        throw Error(ErrorCode::bad_option, fmt::format("goes with {}; give both", c.what), {.field = c.name});
      }
    }
  }
}

}  // namespace

PieceText texts_of(const Tables& tables, const ReadingOptions& options)
{
  PieceText text;
  for (const auto& [field, words] : options.texts) {
    for (const std::string& word : words) {
      text[field] += (text[field].empty() ? "" : " ") + word;
    }
  }
  add_users_settings(tables, options, text);
  if (options.reads != Reads::rows) {
    refuse_alone(options, text);
  }
  for (const std::string& test : options.tests) {
    const std::size_t sign = test.find('=');
    if (sign == std::string::npos) {
      throw Error(ErrorCode::bad_option, fmt::format("\"{}\" is not NAME=ANSWER, such as magnet=weak", test),
                  {.field = "--test"});
    }
    const std::string& name = test_called(tables, test.substr(0, sign)).key;
    const auto field = field_of_test(name);
    if (!field) {
      throw Error(ErrorCode::bad_option, fmt::format("the test {} has no column that could take its answer", name),
                  {.field = "--test"});
    }
    if (!text[*field].empty()) {
      throw Error(
          ErrorCode::bad_option,
          fmt::format("{} is answered twice ({} and {}); give it once", name, text[*field], test.substr(sign + 1)),
          {.field = "--test"});
    }
    text[*field] = test.substr(sign + 1);
  }
  return text;
}

VerdictOptions verdict_options_of(const ReadingOptions& options)
{
  if (!(options.level > 0.5 && options.level < 0.9999)) {
    throw Error(ErrorCode::bad_option, fmt::format("{} is not between 0.5 and 0.9999", options.level),
                {.field = "--level"});
  }
  if (!(options.pays_percent >= 0.0 && options.pays_percent <= 100.0)) {
    throw Error(ErrorCode::bad_option, fmt::format("{} is outside 0 to 100 percent", options.pays_percent),
                {.field = "--pays"});
  }
  VerdictOptions v;
  v.level = options.level;
  v.marks = options.no_marks ? Marks::never : options.marks_allowed ? Marks::always : Marks::by_place;
  if (!options.ask.empty()) {
    v.question = question_called(options.ask);
  }
  v.prices.pays = options.pays_percent / 100.0;
  v.prices.hours = options.hours;
  for (const std::string& price : options.prices) {
    const std::size_t sign = price.find('=');
    const std::size_t slash = std::min(price.find('/'), price.size());
    const auto* const known = std::find_if(precious_metals.begin(), precious_metals.end(), [&](std::string_view metal) {
      return same_name(metal, price.substr(0, sign));
    });
    const std::string unit = slash < price.size() ? folded(price.substr(slash + 1)) : "g";
    double value = -1.0;
    const std::string amount = sign == std::string::npos ? "" : price.substr(sign + 1, slash - sign - 1);
    const auto [end, trouble] = std::from_chars(amount.data(), amount.data() + amount.size(), value);
    if (trouble != std::errc() || end != amount.data() + amount.size()) {
      value = -1.0;
    }
    if (known == precious_metals.end() || !(value >= 0.0 && value < 1e9) || (unit != "g" && unit != "ozt")) {
      throw Error(ErrorCode::bad_option,
                  fmt::format("\"{}\" is not METAL=P/g or METAL=P/ozt with METAL one of {}", price,
                              fmt::join(precious_metals, " ")),
                  {.field = "--price"});
    }
    const std::string metal(*known);
    if (v.prices.per_g.contains(metal)) {
      throw Error(ErrorCode::bad_option, fmt::format("{} has two prices; give one", metal), {.field = "--price"});
    }
    v.prices.per_g[metal] = unit == "ozt" ? value / grams_per_troy_ounce : value;
  }
  return v;
}

const Tables& tables_of(const ReadingOptions& options, Tables& storage)
{
  if (options.my_tables.empty()) {
    return built_in_tables();
  }
  storage = tables_with(options.my_tables);
  return storage;
}
