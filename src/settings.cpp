#include <toml++/toml.h>

#include <fmt/core.h>

#include <algorithm>
#include <cerrno>
#include <fstream>
#include <iterator>
#include <map>
#include <system_error>
#include <utility>

#include "bilancetta/error.hpp"
#include "bilancetta/piece_text.hpp"
#include "bilancetta/spelling.hpp"

namespace bilancetta
{

namespace
{

// Only what describes the bench may stand in a file of settings, never a reading, a test or a claim.
bool describes_the_bench(Field field)
{
  constexpr Field allowed[] = {Field::water_c,        Field::water_c_u,        Field::tap_water,
                               Field::liquid_density, Field::liquid_density_u, Field::air_c,
                               Field::air_hpa,        Field::air_rh,           Field::scale,
                               Field::readability_g,  Field::repeatability_g,  Field::linearity_g,
                               Field::drift_g,        Field::liquid_scale,     Field::span_u,
                               Field::wetting,        Field::thread_mm,        Field::thread_not_tared,
                               Field::cup_mm,         Field::evaporation_g,    Field::air_free,
                               Field::found,          Field::reagent,          Field::reagent_checked,
                               Field::tare_rounded};
  return std::find(std::begin(allowed), std::end(allowed), field) != std::end(allowed);
}

std::vector<std::string> settings_known()
{
  std::vector<std::string> names;
  for (int i = 0; i < field_count; ++i) {
    if (describes_the_bench(static_cast<Field>(i))) {
      names.emplace_back(name_of(static_cast<Field>(i)));
    }
  }
  return names;
}

std::string text_of(const toml::node& node, const Where& where)
{
  if (const auto text = node.value_exact<std::string>()) {
    return *text;
  }
  if (const auto flag = node.value_exact<bool>()) {
    return *flag ? "yes" : "no";
  }
  if (const auto number = node.value<double>()) {
    return fmt::format("{}", *number);
  }
  throw Error(ErrorCode::bad_option, "a number, a word in quotes, true or false is expected", where);
}

// Weighs something ordinary with these settings, so that one out of its range is refused where it stands.
void try_out(const Tables& tables, PieceText settings, const std::map<std::string, Where>& set_at)
{
  settings[Field::dry_g] = "10.00";
  settings[Field::rise_g] = "1.00";
  if (settings[Field::liquid_density].empty() && !settings[Field::liquid_density_u].empty()) {
    settings[Field::liquid_density] = "1";  // the option or the column may give it
  }
  try {
    const Weighing weighing = piece_from(tables, settings, 2).piece.weighing;
    check(weighing);
    static_cast<void>(liquid_density_of(weighing.surroundings));
    static_cast<void>(air_density_g_cm3(weighing.surroundings.air));
  } catch (const Error& error) {
    const auto at = set_at.find(error.where().field);
    if (at != set_at.end()) {
      const std::string message = error.what();
      throw Error(error.code(), message.substr(at->first.size() + 2), at->second);
    }
  }
}

}  // namespace

void add_settings(const Tables& tables, PieceText& text, const std::filesystem::path& path)
{
  std::error_code ignored;
  if (std::filesystem::is_directory(path, ignored) || std::filesystem::is_character_file(path, ignored)) {
    throw Error(ErrorCode::cannot_open, "is no file of settings; lines such as readability_g = 0.01 are expected",
                {.file = path.string()});
  }
  std::ifstream in(path, std::ios::binary);
  if (!in) {
    throw Error(ErrorCode::cannot_open,
                fmt::format("cannot be read ({}); is the name right?", std::generic_category().message(errno)),
                {.file = path.string()});
  }
  toml::table table;
  try {
    const std::string lines{std::istreambuf_iterator<char>(in), {}};  // the parser would seek, which a pipe cannot
    table = toml::parse(lines, path.string());
  } catch (const toml::parse_error& error) {
    throw Error(ErrorCode::cannot_open, fmt::format("cannot be read as settings: {}", error.description()),
                {.file = path.string(), .line = static_cast<int>(error.source().begin.line)});
  }
  PieceText taken;
  std::map<std::string, Where> set_at;
  for (const auto& [key, node] : table) {
    const Where where{path.string(), static_cast<int>(node.source().begin.line), std::string(key.str())};
    const auto field = field_called(key.str());
    if (!field || !describes_the_bench(*field)) {
      throw Error(ErrorCode::bad_option,
                  fmt::format("is no setting; the nearest are {}; a line such as readability_g = 0.01 or wetting = "
                              "\"soaped\" is expected",
                              nearest_names(key.str(), settings_known())),
                  where);
    }
    if (text[*field].empty()) {
      text[*field] = taken[*field] = text_of(node, where);
      set_at.emplace(name_of(*field), where);
    }
  }
  try_out(tables, std::move(taken), set_at);
}

}  // namespace bilancetta
