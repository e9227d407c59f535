#include "out_file.hpp"

#include <fcntl.h>
#include <fmt/core.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>

#include "bilancetta/error.hpp"

using namespace bilancetta;
namespace fs = std::filesystem;

namespace
{

[[noreturn]] void refuse(const std::string& file, const std::string& why)
{
  throw Error(ErrorCode::cannot_open, why, {.file = file});
}

// The file itself where a link is named. Standard output has no such name here: a file "-" would surprise.
std::string target_of(const std::string& name)
{
  if (name == "-") {
    refuse(name, "stands for no file here, nor for standard output; name a file");
  }
  std::error_code trouble;
  const fs::path path = fs::canonical(name, trouble);
  return trouble ? name : path.string();
}

void check_names(const std::string& name, const std::string& part, const std::vector<std::string>& inputs)
{
  std::error_code trouble;
  for (const std::string& file : {name, part}) {
    if (fs::exists(file, trouble) && !fs::is_regular_file(file, trouble)) {
      refuse(file, "is no plain file; name a new file, or for rows leave --out away and use > instead");
    }
  }
  for (const std::string& input : inputs) {
    if (fs::equivalent(name, input, trouble) || fs::equivalent(part, input, trouble)) {
      refuse(input, "cannot be input and output at once; name another file for the output");
    }
  }
}

// Two runs that write one file would mix their rows.
void lock(int descriptor, const std::string& part)
{
  if (descriptor >= 0 && flock(descriptor, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK) {
    close(descriptor);
    refuse(part, "is being written by another run; let that one end");
  }
  struct stat locked = {};
  struct stat named = {};
  if (descriptor >= 0 && fstat(descriptor, &locked) == 0 &&
      (stat(part.c_str(), &named) != 0 || named.st_ino != locked.st_ino)) {
    close(descriptor);
    refuse(part, "has just been finished by another run");
  }
}

DoneBefore done_in(const std::string& part, bool json)
{
  std::ifstream in(part, std::ios::binary);
  DoneBefore done = done_before_in(in, json);
  if (done.first != '\0' && json != (done.first == '{')) {  // a row of a CSV may begin with anything, its header not
    refuse(part,
           json ? "holds no JSON; leave --json away to go on with it" : "holds JSON; give --json to go on with it");
  }
  return done;
}

}  // namespace

OutFile::OutFile() : descriptor_(STDOUT_FILENO), buffer_(descriptor_), stream_(&buffer_) {}

OutFile::OutFile(const std::string& name, const std::vector<std::string>& inputs, bool carry_on, bool json)
    : name_(target_of(name)), part_(name_ + ".part"), descriptor_(-1), buffer_(-1), stream_(&buffer_)
{
  check_names(name_, part_, inputs);
  std::error_code trouble;
  if (carry_on && fs::exists(part_, trouble)) {
    descriptor_ = open(part_.c_str(), O_WRONLY | O_APPEND | O_CLOEXEC);
    lock(descriptor_, part_);
    done_ = done_in(part_, json);
    if (descriptor_ >= 0 && ftruncate(descriptor_, static_cast<off_t>(done_->bytes)) != 0) {
      refuse(part_, fmt::format("cannot be changed: {}", std::strerror(errno)));
    }
  } else if (carry_on && fs::exists(name_, trouble)) {
    refuse(name_, "is finished, there is nothing to go on with; begin again with --out");
  } else {
    descriptor_ = open(part_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_APPEND | O_CLOEXEC, 0666);
    if (descriptor_ < 0 && errno == EEXIST) {
      refuse(part_,
             fmt::format("is there from a run that was stopped, or still runs; remove it, or, where it holds rows "
                         "of a batch without --sitting, --learn or --summary, go on with --carry-on {}",
                         name));
    }
    lock(descriptor_, part_);
  }
  if (descriptor_ < 0) {
    refuse(part_, fmt::format("cannot be written: {}", std::strerror(errno)));
  }
  buffer_ = OutputBuffer(descriptor_);
}

OutFile::~OutFile()
{
  if (name_.empty()) {
    return;
  }
  if (lseek(descriptor_, 0, SEEK_END) == 0) {
    unlink(part_.c_str());  // nothing was written: the input was refused
  }
  close(descriptor_);
}

void OutFile::finish()
{
  if (name_.empty()) {
    return;
  }
  if (!stream_) {
    refuse(name_, fmt::format("could not be written whole: {}; make room, remove {} and do it again",
                              std::strerror(buffer_.trouble()), part_));
  }
  // On the disk before it takes its name, or a power cut could leave an empty file.
  if (fsync(descriptor_) != 0 || std::rename(part_.c_str(), name_.c_str()) != 0) {
    refuse(name_, fmt::format("could not be finished: {}; the results are in {}", std::strerror(errno), part_));
  }
}
