#include <algorithm>
#include <charconv>

#include "bilancetta/error.hpp"
#include "bilancetta/report.hpp"
#include "json_number.hpp"

namespace bilancetta
{

namespace
{

// Says what stands where a step of a path leads nowhere.
[[noreturn]] void refuse_step(const Json& at, const std::string& step)
{
  std::string known;
  if (at.is_object()) {
    for (const auto& [key, value] : at.items()) {
      known.append(known.empty() ? "; there are " : ", ").append(key);
    }
  } else if (at.is_array()) {
    known = at.empty() ? "; the list is empty" : "; entries are counted from 0 to " + std::to_string(at.size() - 1);
  }
  throw Error(ErrorCode::bad_option, "there is no \"" + step + "\" in the result" + known, {.field = "only"});
}

}  // namespace

std::string json_value(const std::string& text, const std::string& path)
{
  const Json json = Json::parse(text);
  const Json* at = &json;
  std::size_t from = 0;
  while (from <= path.size()) {
    const std::size_t dot = std::min(path.find('.', from), path.size());
    const std::string step = path.substr(from, dot - from);
    from = dot + 1;
    std::size_t index = 0;
    const auto [end, trouble] = std::from_chars(step.data(), step.data() + step.size(), index);
    const bool numeric = trouble == std::errc() && end == step.data() + step.size();
    if (at->is_object() && at->contains(step)) {
      at = &(*at)[step];
    } else if (at->is_array() && numeric && index < at->size()) {
      at = &(*at)[index];
    } else {
      refuse_step(*at, step);
    }
  }
  return at->is_string() ? at->get<std::string>() : json_text(*at);
}

}  // namespace bilancetta
