// The program `standin`: a simulated phone, in simulated hands, that speaks the debug link over TCP.

#include <fmt/format.h>
#include <signal.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>
#include <thread>

#include "harness/base/encoding.hpp"
#include "harness/manual/manual.hpp"
#include "lists.hpp"
#include "tools/standin/whole/whole.hpp"

namespace hb::standin {
namespace {
struct Options {
  std::string model = "petal";
  std::uint64_t seed = 1;
  std::vector<std::string> faults;
  std::uint16_t port = 0, jig_port = 0;
  std::string clock = "stepped";
  std::string browser = "builtin";
  long long dialog_ms = 0;
  bool never_allow = false;
  std::uint64_t pull_after_packets = 0;
  long long back_after_ms = 500;
  bool list_faults = false, print_canaries = false, json = false, exit_with_parent = false;
  bool gossips = false;
  std::string banner_tail;
};

void describe(CLI::App& cli, Options& o) {
  cli.set_version_flag("--version", "standin " HB_VERSION);
  cli.add_option("--model", o.model, "petal (clamshell fold) or plank (slab)")
      ->check(CLI::IsMember({"petal", "plank"}))
      ->capture_default_str();
  cli.add_option("--seed", o.seed, "which unit of the model")->capture_default_str();
  cli.add_option("--fault", o.faults, "NAME or NAME:DEGREE, a fault or a condition; may be repeated")
      ->allow_extra_args(false);
  cli.add_option("--port", o.port, "debug link on 127.0.0.1; 0: any")->capture_default_str();
  cli.add_option("--jig-port", o.jig_port, "fixture channel on 127.0.0.1; 0: any")->capture_default_str();
  cli.add_option("--clock", o.clock, "stepped, wall, or rate:N")->capture_default_str();
  cli.add_option("--browser", o.browser, "builtin, none, or the path of a Chromium")->capture_default_str();
  cli.add_option("--dialog-ms", o.dialog_ms, "how long the owner thinks before allowing a new key")
      ->check(CLI::Range(0LL, 3'600'000LL));
  cli.add_flag("--never-allow", o.never_allow, "nobody ever allows a new key");
  cli.add_option("--pull-after-packets", o.pull_after_packets,
                 "pull the cable after N packets from the host");
  cli.add_option("--back-after-ms", o.back_after_ms, "and plug it in again after this time")
      ->check(CLI::Range(0LL, 3'600'000LL))
      ->capture_default_str();
  cli.add_flag("--gossip", o.gossips, "say personal content wherever a bench listens (--print-canaries)");
  cli.add_option("--banner-tail", o.banner_tail, "bytes at the end of the banner, as hexadecimal");
  cli.add_flag("--list-faults", o.list_faults, "print the faults and conditions, and end");
  cli.add_flag("--print-canaries", o.print_canaries, "print the planted personal texts, and end");
  cli.add_flag("--json", o.json, "lists as JSON");
  cli.add_flag("--exit-with-parent", o.exit_with_parent, "end when standard input closes");
}

WholeOptions whole_options(const Options& o) {
  WholeOptions w;
  w.model = o.model;
  w.seed = o.seed;
  w.faults = o.faults;
  w.clock = o.clock;
  w.browser = o.browser;
  w.jig_port = o.jig_port;
  w.gossips = o.gossips;
  if (const auto bytes = from_hex(o.banner_tail)) w.wire.features += as_text(*bytes);
  w.wire.port = o.port;
  w.wire.dialog = net::milliseconds(o.dialog_ms);
  w.wire.accept_keys = !o.never_allow;
  return w;
}

/// Ends the program by its own signal once nobody holds the other end of standard input.
void watch_stdin() {
  std::thread([] {
    char drop[256];
    for (;;) {
      const auto n = ::read(STDIN_FILENO, drop, sizeof drop);
      if (n == 0 || (n < 0 && errno != EINTR)) break;
    }
    ::kill(::getpid(), SIGTERM);
  }).detach();
}

int serve(net::io_context& io, const Options& o, Whole& phone) {
  net::asio::signal_set signals(io, SIGTERM, SIGINT);
  signals.async_wait([&io](net::error_code, int) { io.stop(); });
  if (o.pull_after_packets > 0)
    phone.daemon().pull_after_packets(o.pull_after_packets, net::milliseconds(o.back_after_ms));
  fmt::print(
      "{}\n",
      nlohmann::json{{"port", phone.port()}, {"jig_port", phone.jig_port()}, {"model", o.model}}.dump());
  std::fflush(stdout);
  if (o.exit_with_parent) watch_stdin();
  io.run();
  phone.close();
  return 0;
}

int refuse(const Error& e) {
  fmt::print(stderr, "standin: {}\n", e.message());
  return 2;
}

int run(int argc, char** argv) {
  Options o;
  CLI::App cli{"standin: a simulated phone for trying out and testing a repair bench", "standin"};
  describe(cli, o);
  manual::add_writer(cli, {HB_VERSION, HB_RELEASE_DATE, {}});
  try {
    cli.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    return cli.exit(e) == 0 ? 0 : 2;
  }
  if (o.list_faults || o.print_canaries) {
    fmt::print("{}", o.list_faults ? fault_table(o.json) : canary_table(o.seed, o.json));
    return 0;
  }
  try {
    net::io_context io(1);
    const auto phone = Whole::start(io, whole_options(o));
    if (!phone) return refuse(phone.error());
    return serve(io, o, **phone);
  } catch (const boost::system::system_error& e) {
    return refuse(Error{ErrorCode::io, fmt::format("a port cannot be opened: {}", e.code().message()), "",
                        "Choose another with --port and --jig-port, or leave both out."});
  }
}
}  // namespace
}  // namespace hb::standin

int main(int argc, char** argv) { return hb::standin::run(argc, argv); }
