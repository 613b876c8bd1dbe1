// What is left of a phone's personal texts in the memory of the real program: stopped by the kernel at its
// exit, when the run is over and its memory still there, every writable page is read.
#include <fcntl.h>
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <sys/ptrace.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <fstream>
#include <sstream>

#include "finder.hpp"
#include "whole.hpp"

namespace hb::test {
namespace {

/// Every readable and writable mapping.
std::string memory_of(pid_t pid) {
  std::string all;
  std::ifstream maps(fmt::format("/proc/{}/maps", pid));
  const int mem = ::open(fmt::format("/proc/{}/mem", pid).c_str(), O_RDONLY | O_CLOEXEC);
  for (std::string line; std::getline(maps, line);) {
    std::istringstream words(line);
    std::uint64_t from = 0, to = 0;
    char dash = 0;
    std::string rights;
    words >> std::hex >> from >> dash >> to >> rights;
    if (rights.substr(0, 2) != "rw") continue;
    std::string part(to - from, '\0');
    const auto n = ::pread(mem, part.data(), part.size(), static_cast<off_t>(from));
    if (n > 0) all.append(part, 0, static_cast<std::size_t>(n));
  }
  ::close(mem);
  return all;
}

struct AtExit {
  int code = -1;
  std::string memory;
};
/// Runs the words with `mark` in the environment. Nothing when the system forbids tracing.
std::optional<AtExit> run_to_the_exit(std::vector<std::string> words, const std::string& mark) {
  std::vector<char*> argv;
  for (auto& w : words) argv.push_back(w.data());
  argv.push_back(nullptr);
  const pid_t pid = ::fork();
  if (pid == 0) {
    ::setenv("HANDBACK_TEST_MARK", mark.c_str(), 1);
    const int null = ::open("/dev/null", O_RDWR | O_CLOEXEC);
    ::dup2(null, 0), ::dup2(null, 1), ::dup2(null, 2);
    if (::ptrace(PTRACE_TRACEME, 0, nullptr, nullptr) != 0) ::_exit(126);
    ::execv(argv[0], argv.data());
    ::_exit(127);
  }
  AtExit out;
  for (bool asked = false;;) {
    int status = 0;
    if (::waitpid(pid, &status, 0) < 0) return std::nullopt;
    if (WIFEXITED(status)) {
      out.code = WEXITSTATUS(status);
      return asked ? std::optional(out) : std::nullopt;
    }
    if (!WIFSTOPPED(status)) return std::nullopt;
    long pass_on = WSTOPSIG(status);
    if (!asked) {  // at its exec
      ::ptrace(PTRACE_SETOPTIONS, pid, nullptr, PTRACE_O_TRACEEXIT | PTRACE_O_EXITKILL);
      asked = true;
      pass_on = 0;
    } else if (status >> 8 == (SIGTRAP | (PTRACE_EVENT_EXIT << 8))) {
      out.memory = memory_of(pid);
      pass_on = 0;
    }
    ::ptrace(PTRACE_CONT, pid, nullptr, pass_on);
  }
}

TEST(MemoryOfTheProgram, HoldsNoPersonalTextOfThePhoneAfterTheRun) {
  TempFolder t;
  const auto call = [&](std::vector<std::string> words) {
    words.insert(words.begin(), {handback(), "--home", t / "home"});
    return run(words).code;
  };
  ASSERT_EQ(call({"bench", "init", "--shop", "S", "--contact", "3 Tarn Street"}), 0);
  ASSERT_EQ(call({"intake", "--fault", "screen-dark", "--repair", "swap", "--consent"}), 0);
  const Background phone(
      {standin(), "--model", "plank", "--port", "0", "--jig-port", "0", "--clock", "stepped", "--gossip"});
  const auto ports = nlohmann::json::parse(phone.first_line(), nullptr, false);
  ASSERT_TRUE(ports.is_object()) << phone.first_line();
  const std::string mark = "a mark that must be found, or nothing was read";
  const auto ended = run_to_the_exit({handback(), "--home", t / "home", "run", "--device",
                                      fmt::format("tcp:127.0.0.1:{}", ports["port"].get<int>()), "--fixture",
                                      fmt::format("tcp:127.0.0.1:{}", ports["jig_port"].get<int>())},
                                     mark);
  if (!ended) GTEST_SKIP() << "this system lets no program trace its child";
  EXPECT_EQ(ended->code, 0);
  EXPECT_NE(ended->memory.find(mark), std::string::npos);
  EXPECT_GT(ended->memory.size(), 1u << 20);
  std::string said;
  for (const auto& c : canaries())
    if (ended->memory.find(c.text) != std::string::npos) said += c.name + "\n";
  EXPECT_EQ(said, "");
}
}  // namespace
}  // namespace hb::test
