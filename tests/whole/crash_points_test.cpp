// Two benches on one ledger; one of them is broken off at a seeded moment in a seeded way. Every run ends
// under its own job and phone, and no command that was printed to go on leads to an error.
#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <map>
#include <optional>
#include <random>
#include <set>
#include <thread>

#include "bench_day.hpp"
#include "harness/base/encoding.hpp"

namespace hb::test {
namespace {
namespace fs = std::filesystem;
using SteadyClock = std::chrono::steady_clock;
using namespace std::chrono_literals;

constexpr std::array<const char*, 5> kWays{"SIGKILL", "SIGTERM", "SIGHUP", "full disk", "read-only folder"};

/// Root may write everywhere: then the benches are somebody else's.
constexpr uid_t kNobody = 65534;
void become_nobody() {
  if (::geteuid() == 0 && (::setgid(kNobody) != 0 || ::setuid(kNobody) != 0)) ::_exit(126);
}

struct Going {
  explicit Going(const Words& words) {
    std::array<int, 2> said{};
    if (::pipe2(said.data(), O_CLOEXEC) != 0) throw std::runtime_error("pipe");
    pid = ::fork();
    if (pid == 0) {
      ::setsid();
      const int none = ::open("/dev/null", O_RDWR);
      ::dup2(none, 0), ::dup2(none, 1), ::dup2(said[1], 2);
      std::signal(SIGXFSZ, SIG_IGN);  // a full disk is an error of the write
      become_nobody();
      std::vector<char*> argv;
      for (const auto& w : words) argv.push_back(const_cast<char*>(w.c_str()));
      argv.push_back(nullptr);
      ::execv(argv[0], argv.data());
      ::_exit(127);
    }
    ::close(said[1]);
    err_ = said[0];
  }
  ~Going() {
    if (!code) ::kill(pid, SIGKILL), ::waitpid(pid, nullptr, 0);
    ::close(err_);
  }
  Going(const Going&) = delete;
  Going& operator=(const Going&) = delete;
  /// False after `limit`.
  bool end(std::chrono::milliseconds limit) {
    const auto until = SteadyClock::now() + limit;
    for (;;) {
      read_on(code ? 100 : 5);
      int status = 0;
      if (!code && ::waitpid(pid, &status, WNOHANG) == pid) {
        code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
        read_on(100);
      }
      if (code) return true;
      if (SteadyClock::now() >= until) return false;
    }
  }
  pid_t pid = -1;
  std::optional<int> code;
  std::string err;

 private:
  void read_on(int ms) {
    pollfd there{err_, POLLIN, 0};
    std::array<char, 4096> c{};
    for (ssize_t n = 1; n > 0 && ::poll(&there, 1, ms) > 0;) {
      n = ::read(err_, c.data(), c.size());
      if (n > 0) err.append(c.data(), static_cast<std::size_t>(n));
    }
  }
  int err_ = -1;
};

struct OneBench {
  std::string home, device, fixture, tail;
  std::unique_ptr<PluggedIn> phone;
  Words words;
  std::string job, tag;

  Finished call(const Words& more) const {
    Going g(words + more);
    if (!g.end(120s)) ::kill(g.pid, SIGKILL), static_cast<void>(g.end(10s));
    return {g.code.value_or(124), "", g.err};
  }
  Words run_words() const { return words + Words{"run", "--job", job} + phone->words(); }
  std::set<std::string> runs(const std::string& ending) const {
    std::set<std::string> out;
    std::error_code ec;
    for (fs::directory_iterator it(home + "/runs", ec), end; !ec && it != end; it.increment(ec))
      if (it->path().extension() == ending) out.insert(it->path().stem());
    return out;
  }
};

/// The payloads of all entries, in order.
std::vector<nlohmann::json> entries(const OneBench& bench, const std::string& file) {
  std::vector<nlohmann::json> out;
  EXPECT_EQ(bench.call({"ledger", "export", "--out", file}).code, 0);
  const auto exported = nlohmann::json::parse(slurp(file), nullptr, false);
  fs::remove(file);
  if (!exported.is_object()) return out;
  for (const auto& e : exported["entries"]) {
    const auto jws = e.value("payload", "");
    const auto first = jws.find('.'), second = jws.find('.', first + 1);
    const auto bytes = from_base64url(jws.substr(first + 1, second - first - 1));
    out.push_back(bytes ? nlohmann::json::parse(bytes->begin(), bytes->end(), nullptr, false)
                        : nlohmann::json());
  }
  return out;
}

struct CrashPoints : testing::Test {
  TempFolder t;
  std::array<OneBench, 2> benches;
  std::string shared = t / "shared";
  std::chrono::milliseconds usual{};

  void SetUp() override {
    fs::create_directories(shared);
    give_away(t.path()), give_away(shared);
    for (std::size_t i = 0; i < 2; ++i) {
      auto& b = benches[i];
      b.home = t / (i == 0 ? "north" : "south");
      b.words = {handback(), "--home", b.home, "--ledger", shared + "/ledger.sqlite"};
      const auto made = b.call({"bench", "init", "--shop", "Tarn Street Phones", "--name",
                                i == 0 ? "north" : "south", "--contact", "3 Tarn Street"});
      if (made.code == 127 || made.code == 126) GTEST_SKIP() << "the program is for its owner alone here";
      ASSERT_EQ(made.code, 0) << made.err;
      b.phone = std::make_unique<PluggedIn>(Words{"--seed", i == 0 ? "3" : "4"});
    }
  }
  static void give_away(const fs::path& p) {
    if (::geteuid() != 0) return;
    EXPECT_EQ(::chown(p.c_str(), kNobody, kNobody), 0);
  }
  void new_jobs() {
    for (auto& b : benches) {
      ASSERT_EQ(b.call({"intake", "--fault", "screen-dark", "--repair", "display-swap", "--consent"}).code,
                0);
      const auto all = entries(b, shared + "/export.json");
      ASSERT_FALSE(all.empty());
      b.job = all.back()["job"].value("id", "");
      ASSERT_NE(b.job, "");
    }
  }
  static void folders_of(const OneBench& b, mode_t mode) {
    for (const char* d : {"/runs", "/sheets", ""}) ::chmod((b.home + d).c_str(), mode);
  }

  /// Waits for the moment, then does it. `publishing`: from the moment that the run is signed.
  static void break_off(Going& g, const OneBench& b, std::size_t way, bool publishing,
                        std::chrono::microseconds moment) {
    if (publishing) {
      const auto until = SteadyClock::now() + 60s;
      while (b.runs(".jws").empty() && !g.end(0ms) && SteadyClock::now() < until)
        std::this_thread::sleep_for(200us);
    }
    std::this_thread::sleep_for(moment);
    if (way < 3) ::kill(g.pid, std::array<int, 3>{SIGKILL, SIGTERM, SIGHUP}[way]);
    const rlimit none{0, RLIM_INFINITY};
    if (way == 3) ::prlimit(g.pid, RLIMIT_FSIZE, &none, nullptr);
    if (way == 4) folders_of(b, 0500);
  }
};

TEST_F(CrashPoints, EveryRunEndsUnderItsOwnJobAndPhoneAndNoPrintedCommandLeadsToAnError) {
  const char* asked = std::getenv("HB_CRASH_POINTS");
  if (asked == nullptr) GTEST_SKIP() << "HB_CRASH_POINTS=60 takes that many points";
  const int points = std::atoi(asked);
  new_jobs();
  for (auto& b : benches) {
    const auto start = SteadyClock::now();
    const auto r = b.call(Words{"run", "--job", b.job} + b.phone->words());
    ASSERT_EQ(r.code, 0) << r.err;
    usual = std::chrono::duration_cast<std::chrono::milliseconds>(SteadyClock::now() - start);
    b.tag = entries(b, shared + "/export.json").back()["phone"].value("tag", "");
    ASSERT_EQ(b.tag.size(), 16u);
  }

  std::map<std::string, int> ended_by_itself, by_hint, by_resume, anew, hints;
  for (int point = 0; point < points; ++point) {
    std::mt19937 seed(static_cast<unsigned>(point) + 1);
    const auto way = static_cast<std::size_t>(point) % kWays.size();
    auto& hit = benches[seed() % 2];
    const bool publishing = seed() % 5 < 2;
    const auto moment =
        publishing
            ? std::chrono::microseconds(seed() % 300000)
            : std::chrono::microseconds(seed() % static_cast<unsigned>(1000 * (usual.count() * 2 + 1)));
    SCOPED_TRACE(fmt::format("point {}: {} of {} {} us{}", point, kWays[way], hit.home, moment.count(),
                             publishing ? " after signing" : ""));
    new_jobs();
    std::array<std::set<std::string>, 2> before{benches[0].runs(".jsonl"), benches[1].runs(".jsonl")};
    {
      std::array<Going, 2> going{Going(benches[0].run_words()), Going(benches[1].run_words())};
      auto& g = going[static_cast<std::size_t>(&hit - benches.data())];
      break_off(g, hit, way, publishing, moment);
      for (auto& each : going) ASSERT_TRUE(each.end(120s)) << each.err;
      folders_of(hit, 0700);
      for (std::size_t i = 0; i < 2; ++i) {
        const auto& b = benches[i];
        auto last = Finished{*going[i].code, "", going[i].err};
        if (&b != &hit) {
          EXPECT_EQ(last.code, 0) << "the other bench\n" << last.err;
          continue;
        }
        const std::string name = kWays[way];
        if (last.code == 0) ++ended_by_itself[name];
        // What was printed, as often as something is.
        for (int times = 0; last.code != 0 && !hint(last.err).empty() && times < 3; ++times) {
          ++hints[name];
          const auto command = hint(last.err);
          Going pasted({"/bin/sh", "-c", command});
          ASSERT_TRUE(pasted.end(120s));
          last = {*pasted.code, "", pasted.err};
          EXPECT_EQ(last.code, 0) << command << "\n" << last.err;
          if (last.code == 0) ++by_hint[name];
        }
        if (last.code == 0) continue;
        // A killed one printed nothing.
        std::string mine;
        for (const auto& id : b.runs(".jsonl"))
          if (!before[i].contains(id)) mine = id;
        const auto rest = mine.empty() ? b.call(Words{"run", "--job", b.job} + b.phone->words())
                                       : b.call(Words{"run", "--resume", mine} + b.phone->words());
        EXPECT_EQ(rest.code, 0) << mine << "\nfirst:\n" << going[i].err << "\nthen:\n" << rest.err;
        ++(mine.empty() ? anew : by_resume)[name];
      }
    }
    std::map<std::string, int> runs_of;
    for (const auto& e : entries(benches[0], shared + "/export.json"))
      for (const auto& b : benches)
        if (e.contains("run") && e["job"].value("id", "") == b.job) {
          ++runs_of[b.home];
          EXPECT_EQ(e["phone"].value("tag", ""), b.tag);
          EXPECT_EQ(e.value("outcome", ""), "pass");
          const auto sheet = b.home + "/sheets/" + e["run"].value("id", "") + "/sheet.pdf";
          EXPECT_EQ(b.call({"verify", sheet}).code, 0) << sheet;
        }
    for (const auto& b : benches) {
      EXPECT_EQ(runs_of[b.home], 1) << b.home;
      EXPECT_TRUE(b.runs(".jws").empty());
    }
    if (HasFailure()) break;
  }
  EXPECT_EQ(benches[0].call({"ledger", "verify"}).code, 0);
  for (const char* way : kWays)
    fmt::print(
        "{:<17} ended by itself {:>2}, by the printed command {:>2} (of {:>2} printed), resumed {:>2}, new "
        "run {:>2}\n",
        way, ended_by_itself[way], by_hint[way], hints[way], by_resume[way], anew[way]);
}
}  // namespace
}  // namespace hb::test
