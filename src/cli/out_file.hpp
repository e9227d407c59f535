#pragma once

#include <optional>
#include <ostream>
#include <string>

#include "bilancetta/carry_on.hpp"
#include "file_streams.hpp"

/// Where results go: standard output, or FILE by way of FILE.part, so that FILE is never half a file.
class OutFile
{
 public:
  /// Standard output.
  OutFile();
  /// Begins FILE.part, or with `carry_on` cuts half a row off its end and goes on behind it (a new one if neither
  /// FILE nor FILE.part exists). @throws Error (cannot_open) if that would spoil the input or other results.
  OutFile(const std::string& name, const std::vector<std::string>& inputs, bool carry_on, bool json);
  ~OutFile();
  OutFile(const OutFile&) = delete;
  OutFile& operator=(const OutFile&) = delete;

  [[nodiscard]] std::ostream& stream() { return stream_; }
  [[nodiscard]] int trouble() const { return buffer_.trouble(); }
  [[nodiscard]] const std::optional<bilancetta::DoneBefore>& done_before() const { return done_; }
  /// FILE.part becomes FILE. @throws Error (cannot_open)
  void finish();

 private:
  std::string name_, part_;
  std::optional<bilancetta::DoneBefore> done_;
  int descriptor_;
  OutputBuffer buffer_;
  std::ostream stream_;
};
