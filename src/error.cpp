#include "bilancetta/error.hpp"

namespace bilancetta
{

namespace
{

std::string with_place(const std::string& message, const Where& where)
{
  std::string place = where.file;
  if (where.line > 0) {
    place += (place.empty() ? "line " : ":") + std::to_string(where.line);
  }
  if (!where.field.empty()) {
    place += (place.empty() ? "" : ": ") + where.field;
  }
  return place.empty() ? message : place + ": " + message;
}

}  // namespace

Error::Error(ErrorCode code, const std::string& message, Where where)
    : std::runtime_error(with_place(message, where)), code_(code), where_(std::move(where))
{
}

}  // namespace bilancetta
