#pragma once

#include <cstdint>
#include <istream>
#include <string>

namespace bilancetta
{

/// What a run of a batch that was stopped has left behind.
struct DoneBefore {
  char first = '\0';        ///< first byte: '{' with JSON; 0 if there is none
  std::string header;       ///< first line, without its end; empty with JSON, or if nothing is whole
  std::string last_row;     ///< the last whole row
  long rows = 0;            ///< whole rows, without the header
  std::uint64_t bytes = 0;  ///< up to the end of the last whole row; anything behind is half a row
};

/// Reads what run_batch has written, to its end. Constant memory.
DoneBefore done_before_in(std::istream& part, bool json);

}  // namespace bilancetta
