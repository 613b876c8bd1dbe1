/// A process of its own that says a byte at a time what it did.
#pragma once

#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <stdexcept>
#include <string>

namespace hb::testing_support {

/// Runs `work` in a process of its own with the writing end of a pipe. Nothing of SQLite is open here then.
struct Child {
  pid_t pid = -1;
  int from = -1;
  template <class F>
  explicit Child(F&& work) {
    int ends[2];
    if (::pipe(ends) != 0) throw std::runtime_error("pipe");
    pid = ::fork();
    if (pid == 0) {
      ::close(ends[0]);
      work(ends[1]);
      ::_exit(0);
    }
    ::close(ends[1]);
    from = ends[0];
  }
  Child(const Child&) = delete;
  Child& operator=(const Child&) = delete;
  ~Child() {
    ::close(from);
    if (pid > 0) ::kill(pid, SIGKILL), ::waitpid(pid, nullptr, 0);
  }
  /// One byte, or -1 when the child has gone.
  int next() const {
    char c = 0;
    return ::read(from, &c, 1) == 1 ? static_cast<unsigned char>(c) : -1;
  }
  std::string rest() const {
    std::string out;
    for (int c = next(); c >= 0; c = next()) out += static_cast<char>(c);
    return out;
  }
  void kill() {
    ::kill(pid, SIGKILL);
    ::waitpid(pid, nullptr, 0);
    pid = -1;
  }
  void wait() {
    ::waitpid(pid, nullptr, 0);
    pid = -1;
  }
};
inline void say(int fd, char c) { static_cast<void>(!::write(fd, &c, 1)); }
}  // namespace hb::testing_support
