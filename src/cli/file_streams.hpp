#pragma once

#include <cstdint>
#include <streambuf>
#include <string>
#include <vector>

/// Reads a file or what is on a descriptor in large blocks, never waiting for more than there is; ends early when
/// the program is asked to stop.
class InputBuffer : public std::streambuf
{
 public:
  /// "-" is standard input. @throws Error (cannot_open)
  explicit InputBuffer(const std::string& name);
  ~InputBuffer() override;
  InputBuffer(const InputBuffer&) = delete;
  InputBuffer& operator=(const InputBuffer&) = delete;
  /// Size of a plain file, else 0.
  [[nodiscard]] std::uint64_t size() const { return size_; }

 protected:
  int_type underflow() override;
  pos_type seekoff(off_type offset, std::ios_base::seekdir from, std::ios_base::openmode) override;
  pos_type seekpos(pos_type position, std::ios_base::openmode) override;

 private:
  std::string name_;
  int descriptor_;
  bool plain_file_ = false;
  std::uint64_t size_ = 0;
  std::vector<char> block_;
};

/// Writes to a descriptor at once, so that what a failed write has left behind is a beginning of what was given.
class OutputBuffer : public std::streambuf
{
 public:
  explicit OutputBuffer(int descriptor) : descriptor_(descriptor) {}
  /// errno of the write that failed, or 0.
  [[nodiscard]] int trouble() const { return trouble_; }

 protected:
  int_type overflow(int_type character) override;
  std::streamsize xsputn(const char* text, std::streamsize length) override;

 private:
  int descriptor_;
  int trouble_ = 0;
};
