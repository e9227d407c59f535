#include "file_streams.hpp"

#include <fcntl.h>
#include <fmt/core.h>
#include <poll.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "bilancetta/error.hpp"
#include "interrupt.hpp"

using namespace bilancetta;

InputBuffer::InputBuffer(const std::string& name)
    : name_(name == "-" ? "standard input" : name),
      descriptor_(name == "-" ? STDIN_FILENO : open(name.c_str(), O_RDONLY | O_CLOEXEC)),
      block_(1U << 16U)
{
  struct stat status = {};
  if (descriptor_ < 0 || fstat(descriptor_, &status) != 0 || S_ISDIR(status.st_mode)) {
    const char* why = descriptor_ < 0 ? std::strerror(errno) : S_ISDIR(status.st_mode) ? "a directory" : "no file";
    throw Error(ErrorCode::cannot_open, fmt::format("cannot be read ({}); is the name right?", why),
                {.file = name.empty() ? "\"\"" : name});
  }
  plain_file_ = S_ISREG(status.st_mode);
  size_ = plain_file_ ? static_cast<std::uint64_t>(status.st_size) : 0;
}

InputBuffer::~InputBuffer()
{
  if (descriptor_ != STDIN_FILENO) {
    close(descriptor_);
  }
}

InputBuffer::int_type InputBuffer::underflow()
{
  while (!interrupted()) {
    pollfd waited[2] = {{descriptor_, POLLIN, 0}, {interrupt_descriptor(), POLLIN, 0}};
    if (!plain_file_ && poll(waited, 2, -1) < 0 && errno == EINTR) {
      continue;
    }
    if (interrupted()) {
      break;
    }
    const ssize_t got = read(descriptor_, block_.data(), block_.size());
    if (got > 0) {
      setg(block_.data(), block_.data(), block_.data() + got);
      return traits_type::to_int_type(block_[0]);
    }
    if (got == 0) {
      break;
    }
    if (errno != EINTR && errno != EAGAIN) {
      throw Error(ErrorCode::cannot_open, fmt::format("could not be read to its end: {}", std::strerror(errno)),
                  {.file = name_});
    }
  }
  return traits_type::eof();
}

InputBuffer::pos_type InputBuffer::seekoff(off_type offset, std::ios_base::seekdir from, std::ios_base::openmode)
{
  if (!plain_file_ || offset != 0 || from != std::ios_base::cur) {
    return pos_type(off_type(-1));  // only asked where it stands
  }
  return lseek(descriptor_, 0, SEEK_CUR) - (egptr() - gptr());
}

InputBuffer::pos_type InputBuffer::seekpos(pos_type position, std::ios_base::openmode)
{
  setg(nullptr, nullptr, nullptr);
  return lseek(descriptor_, static_cast<off_t>(position), SEEK_SET);
}

OutputBuffer::int_type OutputBuffer::overflow(int_type character)
{
  const char text = traits_type::to_char_type(character);
  return xsputn(&text, 1) == 1 ? character : traits_type::eof();
}

std::streamsize OutputBuffer::xsputn(const char* text, std::streamsize length)
{
  std::streamsize written = 0;
  while (written < length && trouble_ == 0) {
    const ssize_t now = write(descriptor_, text + written, static_cast<std::size_t>(length - written));
    if (now >= 0) {
      written += now;
    } else if (errno != EINTR) {
      trouble_ = errno;
    }
  }
  return written;
}
