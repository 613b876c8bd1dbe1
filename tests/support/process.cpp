#include "tests/support/process.hpp"

#include <fcntl.h>
#include <poll.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <fstream>
#include <sstream>
#include <stdexcept>

namespace hb::test {
namespace fs = std::filesystem;

Finished run(const std::vector<std::string>& words, int seconds, const std::string& input) {
  std::array<int, 2> in{}, out{}, err{};
  if (::pipe2(in.data(), O_CLOEXEC) != 0 || ::pipe2(out.data(), O_CLOEXEC) != 0 ||
      ::pipe2(err.data(), O_CLOEXEC) != 0)
    throw std::runtime_error("pipe");
  const pid_t pid = ::fork();
  if (pid == 0) {
    ::setpgid(0, 0);
    ::dup2(in[0], 0);
    ::dup2(out[1], 1);
    ::dup2(err[1], 2);
    std::vector<char*> argv;
    for (const auto& w : words) argv.push_back(const_cast<char*>(w.c_str()));
    argv.push_back(nullptr);
    ::execvp(argv[0], argv.data());
    ::_exit(127);
  }
  ::close(in[0]);
  ::close(out[1]);
  ::close(err[1]);
  if (!input.empty() && ::write(in[1], input.data(), input.size()) < 0) throw std::runtime_error("write");
  ::close(in[1]);
  Finished f;
  const auto end = std::chrono::steady_clock::now() + std::chrono::seconds(seconds);
  bool killed = false;
  std::array<pollfd, 2> p{{{out[0], POLLIN, 0}, {err[0], POLLIN, 0}}};
  while (p[0].fd >= 0 || p[1].fd >= 0) {
    const auto left =
        std::chrono::duration_cast<std::chrono::milliseconds>(end - std::chrono::steady_clock::now()).count();
    if (left <= 0 && !killed) {
      ::kill(-pid, SIGKILL);
      killed = true;
    }
    if (::poll(p.data(), p.size(), killed ? 1000 : static_cast<int>(left)) == 0 && killed) break;
    for (std::size_t i = 0; i < 2; ++i) {
      if (p[i].fd < 0 || p[i].revents == 0) continue;
      std::array<char, 65536> buf{};
      const ssize_t n = ::read(p[i].fd, buf.data(), buf.size());
      if (n > 0)
        (i == 0 ? f.out : f.err).append(buf.data(), static_cast<std::size_t>(n));
      else if (n == 0 || errno != EINTR)
        p[i].fd = -1;
    }
  }
  ::close(out[0]);
  ::close(err[0]);
  int status = 0;
  while (::waitpid(pid, &status, 0) < 0 && errno == EINTR) {
  }
  f.code = killed ? 124 : WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  return f;
}

Background::Background(const std::vector<std::string>& words) {
  std::array<int, 2> out{};
  if (::pipe2(out.data(), O_CLOEXEC) != 0) throw std::runtime_error("pipe");
  pid_ = ::fork();
  if (pid_ == 0) {
    ::dup2(out[1], 1);
    std::vector<char*> argv;
    for (const auto& w : words) argv.push_back(const_cast<char*>(w.c_str()));
    argv.push_back(nullptr);
    ::execvp(argv[0], argv.data());
    ::_exit(127);
  }
  ::close(out[1]);
  out_ = out[0];
  for (char c = 0; ::read(out_, &c, 1) == 1 && c != '\n';) line_ += c;
}

Background::~Background() {
  ::kill(pid_, SIGTERM);
  int status = 0;
  while (::waitpid(pid_, &status, 0) < 0 && errno == EINTR) {
  }
  ::close(out_);
}

bool have(const std::string& program) {
  std::istringstream path(std::getenv("PATH") != nullptr ? std::getenv("PATH") : "");
  for (std::string d; std::getline(path, d, ':');)
    if (::access((d + "/" + program).c_str(), X_OK) == 0) return true;
  return false;
}

TempFolder::TempFolder() {
  std::string t = (fs::temp_directory_path() / "handback-test-XXXXXX").string();
  if (::mkdtemp(t.data()) == nullptr) throw std::runtime_error("mkdtemp");
  path_ = t;
}
TempFolder::~TempFolder() {
  std::error_code ec;
  fs::remove_all(path_, ec);
}

std::string slurp(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::ostringstream s;
  s << in.rdbuf();
  return s.str();
}

std::vector<std::pair<fs::path, std::string>> all_files(const fs::path& folder) {
  std::vector<std::pair<fs::path, std::string>> out;
  for (const auto& e : fs::recursive_directory_iterator(folder))
    if (e.is_regular_file()) out.emplace_back(e.path(), slurp(e.path()));
  return out;
}
}  // namespace hb::test
