// Output that nobody reads never ends or loses a run.
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <filesystem>
#include <functional>
#include <thread>

#include "bench_day.hpp"

namespace hb::test {
namespace {
namespace fs = std::filesystem;
using namespace std::chrono_literals;

bool comes(const std::function<bool()>& true_at_last, std::chrono::seconds limit = 100s) {
  const auto until = std::chrono::steady_clock::now() + limit;
  while (!true_at_last()) {
    if (std::chrono::steady_clock::now() >= until) return false;
    std::this_thread::sleep_for(20ms);
  }
  return true;
}

/// A program with 0, 1 and 2 as the test gives them. `terminal`: 0 becomes its controlling terminal.
struct Started {
  Started(const Words& words, int in, int out, int err, bool terminal) {
    pid = ::fork();
    if (pid == 0) {
      ::setsid();
      ::dup2(in, 0), ::dup2(out, 1), ::dup2(err, 2);
      if (terminal) ::ioctl(0, TIOCSCTTY, 0);
      ::closefrom(3);
      std::vector<char*> argv;
      for (const auto& w : words) argv.push_back(const_cast<char*>(w.c_str()));
      argv.push_back(nullptr);
      ::execv(argv[0], argv.data());
      ::_exit(127);
    }
  }
  ~Started() {
    if (!code) {
      ::kill(pid, SIGKILL);
      ::waitpid(pid, nullptr, 0);
    }
  }
  Started(const Started&) = delete;
  Started& operator=(const Started&) = delete;
  bool ended() {
    int status = 0;
    if (!code && ::waitpid(pid, &status, WNOHANG) == pid)
      code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    return code.has_value();
  }
  pid_t pid = -1;
  std::optional<int> code;
};

/// What is there to be read now.
void read_on(int fd, std::string& into) {
  pollfd there{fd, POLLIN, 0};
  char c[4096];
  while (::poll(&there, 1, 0) > 0 && (there.revents & POLLIN) != 0) {
    const auto n = ::read(fd, c, sizeof c);
    if (n <= 0) return;
    into.append(c, static_cast<std::size_t>(n));
  }
}

struct Unread : testing::Test {
  TempFolder t;
  BenchHome bench{t / "home"};
  std::string job = bench.job();
  PluggedIn phone{{"--seed", "3"}};
  int master = -1, slave = -1;

  void TearDown() override { ::close(master), ::close(slave); }
  bool sheet_is_there() {
    std::error_code ec;
    for (fs::recursive_directory_iterator it(t / "home/sheets", ec), end; !ec && it != end; it.increment(ec))
      if (it->path().filename() == "shop-record.html") return true;
    return false;
  }
};

// Standard input was made non-blocking, and with it the terminal's output: what was printed while the
// terminal stood still (Ctrl-S) threw, and the program ended with SIGABRT.
TEST_F(Unread, ATerminalThatIsStoppedHoldsUpNothingAndShowsAllWhenItGoesOn) {
  ASSERT_EQ(::openpty(&master, &slave, nullptr, nullptr, nullptr), 0);
  // Ctrl-S, and an end of input: nobody answers, so each check that asks is not tested.
  ASSERT_EQ(::write(master, "\x13\x04", 2), 2);
  // Nobody keeps the time here: the phone's is the wall's, as the run's is.
  const PluggedIn real({"--seed", "3", "--clock", "wall"});
  Started run(bench.words + Words{"run", "--job", job, "--device", real.device}, slave, slave, slave, true);
  ASSERT_TRUE(comes([&] { return sheet_is_there() || run.ended(); }));
  EXPECT_FALSE(run.ended()) << "ended with " << *run.code << " before anything could be read";
  ASSERT_TRUE(sheet_is_there());
  std::string screen;
  read_on(master, screen);
  EXPECT_EQ(screen.find("Customer sheet"), std::string::npos);
  ASSERT_EQ(::write(master, "\x11", 1), 1);
  ASSERT_TRUE(comes([&] {
    read_on(master, screen);
    return run.ended();
  }));
  read_on(master, screen);
  EXPECT_EQ(*run.code, 3) << screen;
  for (const char* words : {"Connecting to the phone", "not tested", "Customer sheet", "Before you hand"})
    EXPECT_NE(screen.find(words), std::string::npos) << words << "\n" << screen;
}

// Progress was written until the pipe was full, then the run stood still.
TEST_F(Unread, PipesThatNobodyReadsHoldUpNothingAndKeepTheResult) {
  int out[2], err[2];
  ASSERT_EQ(::pipe(out), 0);
  ASSERT_EQ(::pipe(err), 0);
  for (const int fd : {out[1], err[1]}) {
    ASSERT_GT(::fcntl(fd, F_SETPIPE_SZ, 4096), 0);
    const std::string full(4096, '.');
    ASSERT_EQ(::write(fd, full.data(), full.size()), 4096);
  }
  const int none = ::open("/dev/null", O_RDONLY);
  Started run(bench.words + Words{"run", "--job", job} + phone.words(), none, out[1], err[1], false);
  ::close(out[1]), ::close(err[1]), ::close(none);
  EXPECT_TRUE(comes([&] { return sheet_is_there() || run.ended(); }));
  EXPECT_TRUE(sheet_is_there());
  std::string result, said;
  EXPECT_TRUE(comes([&] {
    read_on(out[0], result), read_on(err[0], said);
    return run.ended();
  }));
  read_on(out[0], result);
  EXPECT_EQ(run.code.value_or(-1), 0);
  EXPECT_NE(result.find("Customer sheet"), std::string::npos) << result;
  EXPECT_NE(said.find("Connecting to the phone"), std::string::npos) << said;
  ::close(out[0]), ::close(err[0]);
}

// SIGPIPE ended the run when the reader behind a pipe had gone.
TEST_F(Unread, PipesWhoseReaderIsGoneEndNothing) {
  int gone[2];
  ASSERT_EQ(::pipe(gone), 0);
  ::close(gone[0]);
  const int none = ::open("/dev/null", O_RDONLY);
  Started run(bench.words + Words{"run", "--job", job} + phone.words(), none, gone[1], gone[1], false);
  ::close(gone[1]), ::close(none);
  ASSERT_TRUE(comes([&] { return run.ended(); }));
  EXPECT_EQ(*run.code, 0);
  EXPECT_TRUE(sheet_is_there());
}

TEST_F(Unread, StandardOutputAndErrorThatAreClosedEndNothing) {
  const auto r = test::run(Words{"sh", "-c", "exec \"$0\" \"$@\" >&- 2>&-"} + bench.words +
                           Words{"run", "--job", job} + phone.words());
  EXPECT_EQ(r.code, 0);
  EXPECT_TRUE(sheet_is_there());
}

// SIGHUP killed the run; now it pauses as with SIGTERM.
TEST_F(Unread, ATerminalThatIsClosedPausesTheRun) {
  ASSERT_EQ(::openpty(&master, &slave, nullptr, nullptr, nullptr), 0);
  Started run(bench.words + Words{"run", "--job", job} + phone.words(), slave, slave, slave, true);
  ::close(std::exchange(slave, -1));
  std::string screen;
  ASSERT_TRUE(comes([&] {
    read_on(master, screen);
    return screen.find("2/") != std::string::npos;
  })) << screen;
  ::close(std::exchange(master, -1));
  ASSERT_TRUE(comes([&] { return run.ended(); }));
  EXPECT_EQ(*run.code, 4);
  const auto list = bench.call({"--json", "run", "--list"}).json();
  ASSERT_EQ(list.size(), 1u);
  const auto rest = bench.call(Words{"run", "--resume", list[0].value("run", "")} + phone.words());
  EXPECT_EQ(rest.code, 0) << rest.err;
}
}  // namespace
}  // namespace hb::test
