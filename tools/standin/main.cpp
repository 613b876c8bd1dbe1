// The program `standin`: a simulated phone, in simulated hands, that speaks the debug link over TCP.

#include <fmt/format.h>
#include <signal.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>
#include <thread>

#include "lists.hpp"
#include "tools/standin/browser/browser.hpp"
#include "tools/standin/device.hpp"
#include "tools/standin/hands/jig.hpp"
#include "tools/standin/shell/shell.hpp"

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
  cli.add_flag("--list-faults", o.list_faults, "print the faults and conditions, and end");
  cli.add_flag("--print-canaries", o.print_canaries, "print the planted personal texts, and end");
  cli.add_flag("--json", o.json, "lists as JSON");
  cli.add_flag("--exit-with-parent", o.exit_with_parent, "end when standard input closes");
}

DaemonOptions daemon_options(const Options& o) {
  DaemonOptions d;
  d.port = o.port;
  d.dialog = net::milliseconds(o.dialog_ms);
  d.accept_keys = !o.never_allow;
  return d;
}

Browser::LensOf lens_of(World& world) {
  return [&world](bool front, int index) -> std::optional<Lens> {
    for (const LensUnit& u : world.unit().lenses) {
      if (u.spec.front != front || u.spec.index != index || !u.present) continue;
      Lens lens;
      lens.blur_px = u.blur_px, lens.tilt_px = u.tilt_px;
      lens.haze = u.haze, lens.shading = u.shading;
      lens.white = u.white;
      lens.chart_in_view = world.hands().chart_part() == u.spec.part;
      lens.seed = mixed(world.unit().seed ^ mixed(static_cast<std::uint64_t>(u.spec.hal_id)));
      return lens;
    }
    return std::nullopt;
  };
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

int serve(const Options& o, const ModelSpec& model, const Faults& faults, Pace pace) {
  net::io_context io(1);
  net::asio::signal_set signals(io, SIGTERM, SIGINT);
  signals.async_wait([&io](net::error_code, int) { io.stop(); });

  World world(make_unit(model, o.seed, faults));
  Timekeeper time(io, world, pace);
  Shell shell(world, time);
  std::unique_ptr<Browser> browser;
  if (o.browser == "builtin")
    browser = Browser::builtin(io, lens_of(world));
  else if (o.browser != "none")
    browser = Browser::chromium(io, o.browser, lens_of(world));
  if (browser) {
    shell.on_open_url = [&browser](std::string url) { browser->open(std::move(url)); };
    world.hands().on_allow = [&browser] { browser->allow(); };
  }
  const auto daemon = Daemon::listen(io, shell, daemon_options(o));
  JigDesk desk(world, time);
  desk.on_pull = [&daemon] { daemon->pull(); };
  desk.on_plug = [&daemon] { daemon->plug(); };
  const auto jig = Jig::listen(io, desk, o.jig_port);
  if (o.pull_after_packets > 0)
    daemon->pull_after_packets(o.pull_after_packets, net::milliseconds(o.back_after_ms));

  fmt::print(
      "{}\n",
      nlohmann::json{{"port", daemon->port()}, {"jig_port", jig->port()}, {"model", model.name}}.dump());
  std::fflush(stdout);
  if (o.exit_with_parent) watch_stdin();
  io.run();
  if (browser) browser->close();
  return 0;
}

int refuse(const Error& e) {
  fmt::print(stderr, "standin: {}\n", e.message());
  return 2;
}

int run(int argc, char** argv) {
  Options o;
  CLI::App cli{"standin: a simulated phone for trying out and testing a repair bench"};
  describe(cli, o);
  try {
    cli.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    return cli.exit(e) == 0 ? 0 : 2;
  }
  if (o.list_faults || o.print_canaries) {
    fmt::print("{}", o.list_faults ? fault_table(o.json) : canary_table(o.seed, o.json));
    return 0;
  }
  const auto faults = Faults::parse(o.faults, o.model);
  if (!faults) return refuse(faults.error());
  const auto pace = Pace::parse(o.clock);
  if (!pace) return refuse(pace.error());
  try {
    return serve(o, *find_model(o.model), *faults, *pace);
  } catch (const boost::system::system_error& e) {
    return refuse(Error{ErrorCode::io, fmt::format("a port cannot be opened: {}", e.code().message()), "",
                        "Choose another with --port and --jig-port, or leave both out."});
  }
}
}  // namespace
}  // namespace hb::standin

int main(int argc, char** argv) { return hb::standin::run(argc, argv); }
