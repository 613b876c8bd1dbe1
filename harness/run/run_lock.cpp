#include "harness/run/run_lock.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>
#include <utility>

namespace hb::run {
namespace {
Error disk(const std::filesystem::path& file, int err) {
  return Error{ErrorCode::io, fmt::format("the run cannot be locked: {}", std::strerror(err)), file.string(),
               "Make room or mend the permissions, then do it again."};
}

/// "process 4711, since 2026-11-25T09:00:00Z", as the holder wrote it.
std::string holder(int fd) {
  std::array<char, 80> text{};
  const auto n = ::pread(fd, text.data(), text.size(), 0);
  const std::string all(text.data(), n > 0 ? static_cast<std::size_t>(n) : 0);
  const auto end = all.find('\n');
  return end == std::string::npos ? "another program" : all.substr(0, end);
}

/// The one who held it before may have removed the name between our open and our lock.
bool still_there(int fd, const std::filesystem::path& file) {
  struct stat ours {};
  struct stat named {};
  return ::fstat(fd, &ours) == 0 && ::stat(file.c_str(), &named) == 0 && ours.st_ino == named.st_ino &&
         ours.st_dev == named.st_dev;
}
}  // namespace

Result<RunLock> RunLock::take(std::filesystem::path file, const std::string& now_utc) {
  for (;;) {
    const int fd = ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    if (fd < 0) return disk(file, errno);
    RunLock lock(file, fd);
    if (::flock(fd, LOCK_EX | LOCK_NB) != 0) {
      const int err = errno;
      const auto who = holder(fd);
      ::close(std::exchange(lock.fd_, -1));
      if (err != EWOULDBLOCK) return disk(file, err);
      return Error{ErrorCode::refused, "this run is under way already: " + who, file.string(),
                   "Go on there, or end that program first (Ctrl-C keeps what it measured)."};
    }
    if (!still_there(fd, file)) {
      ::close(std::exchange(lock.fd_, -1));
      continue;
    }
    const auto line = fmt::format("process {}, since {}\n", ::getpid(), now_utc);
    if (::ftruncate(fd, 0) != 0 || ::pwrite(fd, line.data(), line.size(), 0) < 0) return disk(file, errno);
    return Result<RunLock>(std::move(lock));
  }
}

RunLock::RunLock(RunLock&& other) noexcept
    : file_(std::move(other.file_)), fd_(std::exchange(other.fd_, -1)) {}

RunLock::~RunLock() {
  if (fd_ < 0) return;
  ::unlink(file_.c_str());
  ::close(fd_);
}
}  // namespace hb::run
