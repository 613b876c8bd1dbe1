// Private to harness/cli: what the subcommands share.
#pragma once

#include <CLI/CLI.hpp>
#include <functional>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "harness/net/asio.hpp"
#include "home.hpp"
#include "keys.hpp"
#include "terminal_output.hpp"

namespace hb::cli {

/// Exit codes, also in README.md.
enum Exit : int {
  kPass = 0,        ///< done; a run: every check passed
  kFail = 1,        ///< a run: a check failed; verify: altered
  kUsage = 2,       ///< wrong arguments, bad input, an error named on stderr
  kIncomplete = 3,  ///< a run: nothing failed, but something is marginal or not tested; verify: superseded
                    ///< or withdrawn
  kPaused = 4,      ///< a run was stopped and can be resumed
  kCannotTell = 5   ///< verify: neither authentic nor altered can be said
};

struct App {
  std::string home_option, ledger_option;
  bool json = false;
  bool quiet = false;
  std::string self;  ///< argv[0]'s folder, to find the stand-in
  std::shared_ptr<KeyAccess> keys = std::make_shared<KeyAccess>();
  /// For whatever is said while a run is under way, and of its end.
  std::shared_ptr<Output> output = std::make_shared<Output>();
  /// The command that goes on with the run that is under way; empty while there is nothing to go on with.
  std::shared_ptr<std::string> resume = std::make_shared<std::string>();
  [[nodiscard]] Home home() const { return Home::choose(home_option, keys, ledger_option); }
};

/// Prints the error (stderr; as JSON on stdout with --json) and gives kUsage.
int report(const App& app, const Error& e);

/// Runs a coroutine to its end on one thread. The first SIGINT, SIGTERM or SIGHUP (the terminal was closed)
/// cancels it; a second one kills.
int run_async(const App& app, std::function<net::awaitable<int>()> main);

/// --cure-hours, of intake and run.
void add_cure_hours(CLI::App& sub, std::optional<double>& into);

/// Each adds its subcommand and stores what to do in `action`.
using Action = std::function<int()>;
void add_demo(CLI::App& cli, App& app, Action& action);
void add_bench(CLI::App& cli, App& app, Action& action);
void add_bench_root(CLI::App& bench, App& app, Action& action);
void add_bench_key(CLI::App& bench, App& app, Action& action);
void add_intake(CLI::App& cli, App& app, Action& action);
void add_run(CLI::App& cli, App& app, Action& action);
void add_sheet(CLI::App& cli, App& app, Action& action);
void add_verify(CLI::App& cli, App& app, Action& action);
void add_ledger(CLI::App& cli, App& app, Action& action);
void add_ledger_proofs(CLI::App& ledger, App& app, Action& action);    ///< under `ledger`
void add_ledger_withdraw(CLI::App& ledger, App& app, Action& action);  ///< the same
void add_comebacks(CLI::App& cli, App& app, Action& action);
void add_profile(CLI::App& cli, App& app, Action& action);
void add_phones(CLI::App& cli, App& app, Action& action);
void add_setup(CLI::App& cli, App& app, Action& action);
void add_manual(CLI::App& cli, App& app, Action& action);
}  // namespace hb::cli
