/// One program at a time works on a run. The lock is the kernel's (flock), so a program that was killed
/// leaves none behind; the file beside the journal only says who holds it and since when. Errors: refused,
/// naming the holder's process number and the time; io. Threads: any.
#pragma once

#include <filesystem>
#include <string>

#include "harness/base/result.hpp"

namespace hb::run {

class RunLock {
 public:
  /// `now_utc`: for whoever is refused later. The folder must be there.
  [[nodiscard]] static Result<RunLock> take(std::filesystem::path file, const std::string& now_utc);
  RunLock(RunLock&& other) noexcept;
  RunLock& operator=(RunLock&&) = delete;
  ~RunLock();  ///< removes the file

 private:
  RunLock(std::filesystem::path file, int fd) : file_(std::move(file)), fd_(fd) {}
  std::filesystem::path file_;
  int fd_;
};
}  // namespace hb::run
