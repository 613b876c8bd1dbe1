#include <fmt/format.h>

#include <algorithm>
#include <iostream>

#include "app.hpp"
#include "documents.hpp"
#include "terminal.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

struct TakeBack {
  std::string run, job, reason;
  bool erase = false, yes = false;
  [[nodiscard]] const std::string& id() const { return run.empty() ? job : run; }
};

/// There is no way back, so it is said before.
Result<void> agreed(const TakeBack& args, const std::string& what) {
  if (args.yes) return {};
  if (!is_terminal(stdin))
    return Error{ErrorCode::invalid_argument, "this cannot be undone, so it is asked for first", "--yes",
                 "Give --yes when nobody can answer."};
  fmt::print(stderr, "{}\nThis cannot be undone. Type yes to go on: ", what);
  std::string answer;
  std::getline(std::cin, answer);
  if (answer == "yes") return {};
  return Error{ErrorCode::cancelled, "nothing was changed", "", ""};
}

/// What lies in this bench's own folder: sheets and journals of the runs.
Result<std::vector<std::string>> remove_copies(const Home& home, const std::vector<std::string>& runs) {
  std::vector<std::string> removed;
  for (const auto& run : runs)
    for (const auto& path : {home.sheets() / run, home.runs() / (run + ".jsonl")}) {
      std::error_code ec;
      if (!fs::exists(path, ec)) continue;
      fs::remove_all(path, ec);
      if (ec)
        return Error{ErrorCode::io, "cannot remove a copy of the erased texts: " + ec.message(),
                     path.string(), "Remove it by hand, or give the erase command again."};
      removed.push_back(path.string());
    }
  return removed;
}

constexpr const char* kOutOfReach =
    "Out of reach are copies elsewhere: sheets and records that were handed out, printed or written with "
    "--out, "
    "backups and exports of the ledger, other benches' folders (give `handback ledger erase` there too), and "
    "what a disk keeps of deleted files.";

struct Erased {
  ledger::Erasure erasure;
  std::vector<std::string> removed;
};
Result<Erased> erase_all(const Home& home, ledger::Ledger& ledger, const std::string& id) {
  auto e = ledger.erase(id);
  if (!e) return std::move(e).error();
  auto removed = remove_copies(home, e->runs);
  if (!removed) return std::move(removed).error();
  return Erased{std::move(*e), std::move(*removed)};
}

json to_json(const Erased& e) {
  return {{"erased_entries", e.erasure.entries},
          {"kept_entries", e.erasure.kept},
          {"removed", e.removed},
          {"left", e.erasure.left},
          {"out_of_reach", kOutOfReach}};
}

void show(const Erased& e) {
  if (e.erasure.entries.empty())
    fmt::print("No texts were left in the ledger.\n");
  else
    fmt::print("Texts erased from {} {}: {}.\n", e.erasure.entries.size(),
               e.erasure.entries.size() == 1 ? "entry" : "entries", fmt::join(e.erasure.entries, ", "));
  if (!e.erasure.kept.empty())
    fmt::print("Signed before texts were kept apart, so they stay: entries {}.\n",
               fmt::join(e.erasure.kept, ", "));
  for (const auto& r : e.removed) fmt::print("Removed {}\n", r);
  if (!e.erasure.left.empty()) fmt::print("Not done: {}.\n", e.erasure.left);
  fmt::print("{}\n", kOutOfReach);
}

Result<ledger::Ledger> open_ledger(const Home& home) {
  if (auto there = ledger::Ledger::read(home.ledger()); !there) return std::move(there).error();
  auto key = bench_key(home);
  if (!key) return key.error();
  return ledger::Ledger::open(home.ledger(), *key);
}

int withdraw(const App& app, const TakeBack& args) {
  const Home home = app.home();
  auto ledger = open_ledger(home);
  if (!ledger) return report(app, ledger.error());
  const auto& id = args.id();
  const auto entry = args.run.empty() ? ledger->job_entry(id) : ledger->find(id);
  if (!entry) return report(app, entry.error());
  const auto what = fmt::format(
      "{} {} is withdrawn for the reason {}: no sheet, choice or count uses it from now on, and whoever "
      "checks "
      "its sheet here is told so.{}",
      args.run.empty() ? "The job, with all its runs," : "The run", id, args.reason,
      args.erase ? " Its typed texts, its sheets and journals on this bench are erased." : "");
  if (auto r = agreed(args, what); !r) return report(app, r.error());
  const auto w = ledger->withdraw(id, args.reason);
  if (!w) return report(app, w.error());
  std::optional<Erased> erased;
  if (args.erase) {
    auto e = erase_all(home, *ledger, id);
    if (!e) return report(app, e.error());
    erased = std::move(*e);
  }
  if (app.json) {
    json out = {{"withdrawn", id}, {"entry", w->seq}, {"reason", w->reason}, {"at", w->at_utc}};
    if (erased) out["erasure"] = to_json(*erased);
    fmt::print("{}\n", out.dump(2));
    return kPass;
  }
  fmt::print("✓ {} {} is withdrawn: entry {}.\n", w->of_job ? "Job" : "Run", id, w->seq);
  if (erased)
    show(*erased);
  else
    fmt::print("Its texts are still there. To take them out: handback ledger erase {} {}\n",
               w->of_job ? "--job" : "--run", id);
  return kPass;
}

int erase(const App& app, const TakeBack& args) {
  const Home home = app.home();
  auto ledger = open_ledger(home);
  if (!ledger) return report(app, ledger.error());
  const auto what = fmt::format(
      "The typed texts of {} {} are erased from the ledger, and its sheets and journals on this bench "
      "removed.",
      args.run.empty() ? "the job" : "the run", args.id());
  if (auto r = agreed(args, what); !r) return report(app, r.error());
  const auto e = erase_all(home, *ledger, args.id());
  if (!e) return report(app, e.error());
  if (app.json)
    fmt::print("{}\n", to_json(*e).dump(2));
  else
    show(*e);
  return kPass;
}
}  // namespace

void add_ledger_withdraw(CLI::App& ledger, App& app, Action& action) {
  auto args = std::make_shared<TakeBack>();
  const auto common = [args](CLI::App* to) {
    auto* which = to->add_option_group("what");
    which->add_option("--run", args->run, "the run's number");
    which->add_option("--job", args->job, "the job's number (J-...): it and all its runs");
    which->require_option(1);
    to->add_flag("--yes", args->yes, "do not ask");
  };
  auto* w =
      ledger.add_subcommand("withdraw", "take a run or a job back, by a signed entry; cannot be undone");
  common(w);
  std::vector<std::string> reasons(ledger::kWithdrawalReasons.begin(), ledger::kWithdrawalReasons.end());
  w->add_option("--reason", args->reason, "why")->required()->check(CLI::IsMember(reasons));
  w->add_flag("--erase", args->erase, "erase its typed texts too, as `ledger erase` does");
  w->callback([&app, &action, args] { action = [&app, args] { return withdraw(app, *args); }; });

  auto* e = ledger.add_subcommand(
      "erase", "take the typed texts of what was withdrawn out of the ledger and of this bench's folder");
  common(e);
  e->footer("The entries stay, with the hashes of the texts: the ledger still verifies. May be given again.");
  e->callback([&app, &action, args] { action = [&app, args] { return erase(app, *args); }; });
}
}  // namespace hb::cli
