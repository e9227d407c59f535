#pragma once

#include <stdexcept>
#include <string>

namespace bilancetta
{

/// Why something was refused. Stable: tests and scripts expect the reason, not the wording.
enum class ErrorCode {
  bad_option,         ///< an option or cell outside its allowed range, or contradicting another
  bad_reading,        ///< a weight that no piece of metal could have given
  readings_mixed_up,  ///< a rise typed as a submerged weight, or the reverse
  unknown_key,        ///< a material, place, claim, test or answer that is not in the tables
  bad_table,          ///< a table row that cannot be used
  bad_csv,            ///< a CSV file that cannot be read at all
  cannot_open,        ///< a file that cannot be read or written
  no_threads          ///< the system starts not one thread
};

/// Where the trouble is. Empty or zero parts are left out of the message.
struct Where {
  std::string file{};
  int line = 0;
  std::string field{};
};

/// The one exception of the library: bad input. what() names file, line, field, the value, what is
/// allowed and what to do.
class Error : public std::runtime_error
{
 public:
  Error(ErrorCode code, const std::string& message, Where where = {});

  [[nodiscard]] ErrorCode code() const { return code_; }
  [[nodiscard]] const Where& where() const { return where_; }

 private:
  ErrorCode code_;
  Where where_;
};

}  // namespace bilancetta
