// The link against Debian's stock adb client, side by side on one stand-in over loopback: the time of a small
// command, and the rate of a 64 MiB file both ways. The stand-in offers delayed acknowledgement, as a current
// phone does (AOSP packages/modules/adb, transport.cpp: the daemon lists it always); each client takes what
// it knows. What ours does without it is printed too.
//   hb_bench_link [--commands N] [--repeats N] [--mib N]
// Goals: a command takes at most half of the stock client's time; a file moves at least 1.5 times as fast.
// The stock client is timed as it is used, one process a command, with its own server kept running; its
// set-up folder and server port are private. Needs a release build to mean anything.
#include <fmt/format.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <fstream>
#include <functional>
#include <string>
#include <vector>

#include "phones_process.hpp"
#include "tools/bench/sync_file.hpp"

extern char** environ;

namespace {
using namespace hb;
namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;
using namespace std::chrono_literals;

double seconds_of(const std::function<void()>& work) {
  const auto start = Clock::now();
  work();
  return std::chrono::duration<double>(Clock::now() - start).count();
}

double median(std::vector<double> v) {
  std::sort(v.begin(), v.end());
  return v[v.size() / 2];
}

template <class T>
net::awaitable<void> keep(net::awaitable<Result<T>> work, std::optional<Result<T>>* into) {
  into->emplace(co_await std::move(work));
}
template <class T>
T wait_for(net::io_context& io, net::awaitable<Result<T>> work) {
  std::optional<Result<T>> got;
  net::co_spawn(io, keep(std::move(work), &got), net::detached);
  io.restart();
  while (!got) io.run_one();
  if (!*got) throw std::runtime_error(got->error().message());
  if constexpr (!std::is_void_v<T>) return std::move(**got);
}

using LinkPtr = std::shared_ptr<link::Link>;

net::awaitable<Result<LinkPtr>> open_link(std::uint16_t port, link::BenchRsaKey key,
                                          bool delayed_ack = true) {
  auto transport = co_await link::connect_tcp("127.0.0.1", port, 5s);
  if (!transport) co_return transport.error();
  link::LinkOptions options;
  options.delayed_ack = delayed_ack;
  co_return co_await link::Link::open(std::move(*transport), std::move(key), std::move(options));
}

net::awaitable<Result<link::ShellOutput>> fresh_command(std::uint16_t port, link::BenchRsaKey key) {
  auto l = co_await open_link(port, std::move(key));
  if (!l) co_return l.error();
  auto out = co_await (*l)->shell("echo hello", 5s);
  (*l)->close();
  co_return out;
}

/// The stock client with a home and a server of its own.
class Stock {
 public:
  Stock(fs::path folder, std::uint16_t phone) : serial_(fmt::format("127.0.0.1:{}", phone)) {
    net::io_context io;
    net::tcp::acceptor free(io, net::tcp::endpoint(net::asio::ip::address_v4::loopback(), 0));
    ::setenv("HOME", folder.c_str(), 1);
    ::setenv("TMPDIR", folder.c_str(), 1);
    ::setenv("ANDROID_ADB_SERVER_PORT", std::to_string(free.local_endpoint().port()).c_str(), 1);
    free.close();
    run({"connect", serial_});
    run({"-s", serial_, "wait-for-device"});
  }
  Stock(const Stock&) = delete;
  Stock& operator=(const Stock&) = delete;
  ~Stock() { run({"kill-server"}); }
  void on_phone(std::vector<std::string> words) {
    words.insert(words.begin(), {"-s", serial_});
    if (run(std::move(words)) != 0) throw std::runtime_error("the stock client failed");
  }

 private:
  static int run(std::vector<std::string> words) {
    words.insert(words.begin(), "adb");
    std::vector<char*> argv;
    for (auto& w : words) argv.push_back(w.data());
    argv.push_back(nullptr);
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    for (int fd = 0; fd < 3; ++fd)
      posix_spawn_file_actions_addopen(&actions, fd, "/dev/null", fd == 0 ? O_RDONLY : O_WRONLY, 0);
    pid_t pid = -1;
    const int rc = ::posix_spawnp(&pid, "adb", &actions, nullptr, argv.data(), environ);
    posix_spawn_file_actions_destroy(&actions);
    if (rc != 0) throw std::runtime_error("no adb client here: apt-get install adb");
    int status = 0;
    while (::waitpid(pid, &status, 0) < 0 && errno == EINTR) {
    }
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  }
  std::string serial_;
};

void print_ratio(const char* what, double ours, double stock, const char* unit, bool smaller, double goal) {
  const double ratio = ours / stock;
  const bool met = smaller ? ratio <= goal : ratio >= goal;
  fmt::print("{:<34} ours {:>9.3f} {}   stock {:>9.3f} {}   ratio {:.2f}  (goal {} {}: {})\n", what, ours,
             unit, stock, unit, ratio, smaller ? "<=" : ">=", goal, met ? "met" : "MISSED");
}

struct Sizes {
  std::size_t commands = 200, repeats = 7, mib = 64;
};

void commands(net::io_context& io, const LinkPtr& kept, std::uint16_t port, const link::BenchRsaKey& key,
              Stock& stock, std::size_t n) {
  std::vector<double> ours_kept, ours_fresh, theirs;
  for (std::size_t i = 0; i < n; ++i) {
    ours_kept.push_back(
        seconds_of([&] { static_cast<void>(wait_for(io, kept->shell("echo hello", 5s, 1000))); }));
    ours_fresh.push_back(seconds_of([&] { static_cast<void>(wait_for(io, fresh_command(port, key))); }));
    theirs.push_back(seconds_of([&] { stock.on_phone({"shell", "echo hello"}); }));
  }
  print_ratio("command, kept connection", 1e3 * median(ours_kept), 1e3 * median(theirs), "ms", true, 0.5);
  print_ratio("command, a connection each", 1e3 * median(ours_fresh), 1e3 * median(theirs), "ms", true, 0.5);
}

void files(net::io_context& io, const LinkPtr& plain, const LinkPtr& delayed, Stock& stock,
           const fs::path& folder, const Sizes& sizes) {
  const std::string file = (folder / "up.bin").string(), down = (folder / "down.bin").string();
  {
    std::ofstream out(file, std::ios::binary);
    std::string mib(1u << 20, '\0');
    std::uint32_t x = 1;
    for (std::size_t m = 0; m < sizes.mib; ++m) {
      for (auto& c : mib) c = static_cast<char>((x = x * 1664525u + 1013904223u) >> 24);
      out << mib;
    }
  }
  const std::string far = "/data/local/tmp/bench.bin";
  std::vector<double> send[3], receive[3], memory[3];
  for (std::size_t i = 0; i < sizes.repeats; ++i) {
    send[0].push_back(seconds_of([&] { stock.on_phone({"push", file, far}); }));
    receive[0].push_back(seconds_of([&] { stock.on_phone({"pull", far, down}); }));
    for (int k = 1; k <= 2; ++k) {
      const auto& l = k == 1 ? plain : delayed;
      send[k].push_back(seconds_of([&] { wait_for(io, bench::send_file(l, file, far)); }));
      fs::remove(down);
      receive[k].push_back(seconds_of([&] { wait_for(io, bench::receive_file(l, far, down)); }));
      if (fs::file_size(down) != sizes.mib << 20) throw std::runtime_error("the file came back short");
      memory[k].push_back(seconds_of([&] { wait_for(io, bench::receive_file(l, far, "")); }));
    }
  }
  const auto rate = [&](const std::vector<double>& s) { return static_cast<double>(sizes.mib) / median(s); };
  const auto print = [&](int k) {
    print_ratio("send a file", rate(send[k]), rate(send[0]), "MiB/s", false, 1.5);
    print_ratio("receive a file", rate(receive[k]), rate(receive[0]), "MiB/s", false, 1.5);
    print_ratio("receive, ours into memory only", rate(memory[k]), rate(receive[0]), "MiB/s", false, 1.5);
  };
  print(2);
  fmt::print("Ours without delayed acknowledgement, each packet awaited:\n");
  print(1);
}

int run(int argc, char** argv) {
  Sizes sizes;
  CLI::App cli("the link beside the stock client, on one stand-in");
  cli.add_option("--commands", sizes.commands)->capture_default_str();
  cli.add_option("--repeats", sizes.repeats)->capture_default_str();
  cli.add_option("--mib", sizes.mib, "size of the file")->capture_default_str();
  CLI11_PARSE(cli, argc, argv);
  standin::WholeOptions options;
  options.browser = "none";
  options.wire.delayed_ack = true;
  const bench::PhonesProcess phone(1, options);
  // In memory, so that no disk is measured.
  std::string folder = fs::exists("/dev/shm") ? "/dev/shm/handback-link-XXXXXX" : "/tmp/handback-link-XXXXXX";
  if (::mkdtemp(folder.data()) == nullptr) return 2;
  {
    auto key = link::BenchRsaKey::load_or_make(fs::path(folder) / "key");
    if (!key) return 2;
    net::io_context io(1);
    const auto plain = wait_for(io, open_link(phone.ports()[0].wire, *key, false));
    const auto delayed = wait_for(io, open_link(phone.ports()[0].wire, *key));
    Stock stock(folder, phone.ports()[0].wire);
    commands(io, plain, phone.ports()[0].wire, *key, stock, sizes.commands);
    files(io, plain, delayed, stock, folder, sizes);
  }
  fs::remove_all(folder);
  return 0;
}
}  // namespace

int main(int argc, char** argv) {
  try {
    return run(argc, argv);
  } catch (const std::exception& e) {
    fmt::print(stderr, "hb_bench_link: {}\n", e.what());
    return 2;
  }
}
