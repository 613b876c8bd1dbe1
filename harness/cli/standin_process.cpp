#include "standin_process.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstring>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <utility>

extern char** environ;

namespace hb::cli {
std::string find_standin() {
  std::error_code ec;
  const auto self = std::filesystem::read_symlink("/proc/self/exe", ec);
  const auto beside = self.parent_path() / "standin";
  return !ec && std::filesystem::exists(beside) ? beside.string() : "standin";
}

StandinProcess::StandinProcess(StandinProcess&& o) noexcept
    : port(o.port),
      jig_port(o.jig_port),
      pid_(std::exchange(o.pid_, -1)),
      in_(std::exchange(o.in_, -1)),
      out_(std::exchange(o.out_, -1)) {}

StandinProcess::~StandinProcess() {
  if (in_ >= 0) ::close(in_);
  if (out_ >= 0) ::close(out_);
  if (pid_ > 0) {
    ::kill(pid_, SIGTERM);
    int status = 0;
    while (::waitpid(pid_, &status, 0) < 0 && errno == EINTR) {
    }
  }
}

namespace {
/// First line of `fd`, or empty after `ms` without one.
std::string first_line(int fd, int ms) {
  std::string line;
  for (char c = 0;;) {
    pollfd p{fd, POLLIN, 0};
    if (::poll(&p, 1, ms) <= 0) return {};
    const ssize_t n = ::read(fd, &c, 1);
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) return {};
    if (c == '\n') return line;
    if (line.size() < 4096) line += c;
  }
}
}  // namespace

Result<StandinProcess> StandinProcess::start(const std::string& program,
                                             const std::vector<std::string>& args) {
  int in[2], out[2];
  if (::pipe2(in, O_CLOEXEC) != 0 || ::pipe2(out, O_CLOEXEC) != 0)
    return Error{ErrorCode::io, "no pipe to be had", "", "Close other programs."};
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_adddup2(&actions, in[0], 0);
  posix_spawn_file_actions_adddup2(&actions, out[1], 1);
  posix_spawnattr_t attr;
  posix_spawnattr_init(&attr);
  posix_spawnattr_setflags(&attr, POSIX_SPAWN_SETPGROUP);  // Ctrl-C is for us; the child ends with us
  std::vector<std::string> words{program};
  words.insert(words.end(), args.begin(), args.end());
  std::vector<char*> argv;
  for (auto& w : words) argv.push_back(w.data());
  argv.push_back(nullptr);
  StandinProcess p;
  const int rc = ::posix_spawnp(&p.pid_, program.c_str(), &actions, &attr, argv.data(), environ);
  posix_spawn_file_actions_destroy(&actions);
  posix_spawnattr_destroy(&attr);
  ::close(in[0]);
  ::close(out[1]);
  p.in_ = in[1];
  p.out_ = out[0];
  if (rc != 0) {
    p.pid_ = -1;
    return Error{ErrorCode::not_found,
                 fmt::format("the stand-in phone cannot be started: {}", std::strerror(rc)), program,
                 "Build it (cmake --build build/release --target standin), or name it with --standin."};
  }
  const auto j = nlohmann::json::parse(first_line(p.out_, 20000), nullptr, false);
  if (!j.is_object() || !j.contains("port") || !j.contains("jig_port"))
    return Error{ErrorCode::refused, "the stand-in phone did not start", program,
                 "Its own words stand above. See: standin --help"};
  p.port = j["port"].get<std::uint16_t>();
  p.jig_port = j["jig_port"].get<std::uint16_t>();
  return Result<StandinProcess>(std::move(p));
}
}  // namespace hb::cli
