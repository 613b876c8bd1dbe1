#include <fmt/format.h>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <csignal>

#include "app.hpp"
#include "resuming.hpp"
#include "version.hpp"

namespace hb::cli {
int report(const App& app, const Error& e) {
  if (app.json)
    app.output->result(
        nlohmann::json{
            {"error", std::string(name(e.code))}, {"what", e.what}, {"where", e.where}, {"next", e.next}}
            .dump(-1, ' ', false, nlohmann::json::error_handler_t::replace) +
        "\n");
  app.output->say(fmt::format("handback: {}\n", e.message()));
  return kUsage;
}

namespace {
/// Somebody who started this with nohup wants it to outlive the terminal.
bool ignored(int signal) {
  struct sigaction now {};
  return ::sigaction(signal, nullptr, &now) == 0 && now.sa_handler == SIG_IGN;
}
}  // namespace

int run_async(const App& app, std::function<net::awaitable<int>()> main) {
  net::io_context io(1);
  int code = kUsage;
  std::exception_ptr failed;
  net::asio::cancellation_signal cancel;
  net::asio::signal_set signals(io, SIGINT, SIGTERM);
  if (!ignored(SIGHUP)) signals.add(SIGHUP);
  signals.async_wait([&](net::error_code ec, int) {
    if (ec) return;
    app.output->say("\nStopping ... (press Ctrl-C again to stop at once)\n");
    signals.clear();
    cancel.emit(net::asio::cancellation_type::terminal);
  });
  net::co_spawn(io, main(),
                net::asio::bind_cancellation_slot(cancel.slot(), [&](std::exception_ptr e, int c) {
                  failed = e;
                  code = c;
                  signals.cancel();
                  io.stop();
                }));
  io.run();
  if (failed) std::rethrow_exception(failed);
  return code;
}
namespace {
/// An option that may be repeated takes one value each time where the command takes a file as well: else
/// `verify --root root.jwk sheet.pdf` gives the sheet to --root.
void leave_files_to_the_command(CLI::App& command) {
  const auto options = command.get_options();
  const bool takes_files =
      std::any_of(options.begin(), options.end(), [](const CLI::Option* o) { return o->get_positional(); });
  for (auto* o : options)
    if (takes_files && !o->get_positional() && o->get_expected_max() > 1) o->allow_extra_args(false);
  for (auto* sub : command.get_subcommands([](CLI::App*) { return true; })) leave_files_to_the_command(*sub);
}
}  // namespace
}  // namespace hb::cli

namespace {
/// A file that is opened where standard output was closed would be written over by what is printed.
void hold_standard_descriptors() {
  int fd = 0;
  while (fd >= 0 && fd <= 2) fd = ::open("/dev/null", O_RDWR);  // the lowest that is free; it stays open
  if (fd > 2) ::close(fd);
}
}  // namespace

int main(int argc, char** argv) {
  using namespace hb::cli;
  hold_standard_descriptors();
  ::umask(077);  // whatever is made here is for its owner alone
  CLI::App cli{
      "handback: the checks between \"the last screw is in\" and \"here is your phone\".\n"
      "Talks to a phone over the debug link, measures, judges with uncertainty, signs a sheet, keeps a "
      "ledger.",
      "handback"};
  cli.require_subcommand(1);
  cli.set_version_flag("--version", [] {
    return commit().empty() ? std::string(kSoftware) : fmt::format("{} ({})", kSoftware, commit());
  });
  cli.footer(
      "Exit codes: 0 pass or done, 1 fail, 2 error, 3 nothing failed but not complete, 4 paused; those of "
      "verify: handback verify --help.\n"
      "Every subcommand takes --help and --json.");
  App app;
  app.self = argv[0];
  cli.add_option("--home", app.home_option,
                 "the bench's folder (default: $HANDBACK_HOME, else ~/.local/share/handback)")
      ->type_name("DIR");
  cli.add_option("--ledger", app.ledger_option,
                 "the ledger, if not in that folder: a file, or a PostgreSQL database that benches share "
                 "(postgresql://user@host/shop; default: $HANDBACK_LEDGER)")
      ->type_name("PLACE");
  cli.add_option("--key", app.keys->key_file,
                 "the bench's private key, in place of the one in its folder (for verify: a public key)")
      ->type_name("FILE");
  cli.add_option("--passphrase-fd", app.keys->passphrase_fd,
                 "read passphrases from this file descriptor, one a line, in place of asking")
      ->check(CLI::NonNegativeNumber)
      ->type_name("N");
  cli.add_flag("--json", app.json, "print the result as JSON on standard output");
  cli.add_flag("--quiet,-q", app.quiet, "no progress");
  cli.fallthrough();

  Action action;
  add_demo(cli, app, action);
  add_bench(cli, app, action);
  add_intake(cli, app, action);
  add_run(cli, app, action);
  add_sheet(cli, app, action);
  add_verify(cli, app, action);
  add_ledger(cli, app, action);
  add_comebacks(cli, app, action);
  add_profile(cli, app, action);
  add_phones(cli, app, action);
  add_setup(cli, app, action);
  add_manual(cli, app, action);

  leave_files_to_the_command(cli);

  try {
    cli.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    const int code = cli.exit(e);
    return code == 0 ? 0 : kUsage;
  }
  try {
    return action();
  } catch (const std::exception& e) {
    return report(app, with_resume(unforeseen(e), *app.resume));
  }
}
