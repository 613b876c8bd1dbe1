#include <fmt/format.h>

#include "app.hpp"

namespace hb::cli {
int report(const App& app, const Error& e) {
  if (app.json)
    fmt::print(
        "{}\n",
        nlohmann::json{
            {"error", std::string(name(e.code))}, {"what", e.what}, {"where", e.where}, {"next", e.next}}
            .dump());
  fmt::print(stderr, "handback: {}\n", e.message());
  return kUsage;
}

int run_async(std::function<net::awaitable<int>()> main) {
  net::io_context io(1);
  int code = kUsage;
  std::exception_ptr failed;
  net::asio::cancellation_signal cancel;
  net::asio::signal_set signals(io, SIGINT, SIGTERM);
  signals.async_wait([&](net::error_code ec, int) {
    if (ec) return;
    fmt::print(stderr, "\nStopping ... (press Ctrl-C again to stop at once)\n");
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
}  // namespace hb::cli

int main(int argc, char** argv) {
  using namespace hb::cli;
  CLI::App cli{
      "handback: the checks between \"the last screw is in\" and \"here is your phone\".\n"
      "Talks to a phone over the debug link, measures, judges with uncertainty, signs a sheet, keeps a "
      "ledger.",
      "handback"};
  cli.require_subcommand(1);
  cli.set_version_flag("--version", std::string(kSoftware));
  cli.footer(
      "Exit codes: 0 pass or done, 1 fail or not authentic, 2 error, 3 nothing failed but not complete, 4 "
      "paused.\n"
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

  try {
    cli.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    const int code = cli.exit(e);
    return code == 0 ? 0 : kUsage;
  }
  try {
    return action();
  } catch (const std::exception& e) {
    fmt::print(stderr,
               "handback: a defect of the program: {}\nPlease report it with the command that you gave.\n",
               e.what());
    return kUsage;
  }
}
