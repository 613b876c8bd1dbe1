#include <fmt/format.h>

#include <algorithm>

#include "app.hpp"
#include "harness/run/journal.hpp"
#include "harness/run/run_lock.hpp"
#include "perform.hpp"
#include "reports/record/utc.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

int list_runs(const App& app) {
  auto out = json::array();
  std::error_code ec;
  std::vector<fs::path> files;
  for (fs::directory_iterator it(app.home().runs(), ec), end; !ec && it != end; it.increment(ec))
    if (it->path().extension() == ".jsonl") files.push_back(it->path());
  std::sort(files.begin(), files.end());
  for (const auto& f : files) {
    const auto c = run::Journal::read(f);
    if (!c) {
      out.push_back({{"run", f.stem().string()}, {"damaged", c.error().what}});
      if (!app.json) fmt::print("{}  cannot be resumed: {}\n", f.stem().string(), c.error().what);
      continue;
    }
    const bool finished = fs::exists(app.home().sheets() / f.stem() / "record.jws") &&
                          !has_signed_record(app.home(), f.stem().string());
    out.push_back({{"run", f.stem().string()},
                   {"job", c->header.value("job", "")},
                   {"kind", c->header.value("kind", "")},
                   {"started", c->header.value("started", "")},
                   {"model", c->header.value("model", "")},
                   {"checks_done", c->entries.size()},
                   {"finished", finished}});
    if (!app.json)
      fmt::print("{}  {}  {}  {}  {}  {} checks measured  {}\n", f.stem().string(),
                 c->header.value("job", ""), c->header.value("kind", ""), c->header.value("started", ""),
                 c->header.value("model", ""), c->entries.size(), finished ? "finished" : "can be resumed");
  }
  if (app.json)
    fmt::print("{}\n", out.dump(2));
  else if (out.empty())
    fmt::print("No runs yet.\n");
  return kPass;
}

/// What was measured stays on the disk under another name; no run looks at it any more.
int drop(const App& app, const std::string& id) {
  const Home home = app.home();
  const auto file = home.runs() / (id + ".jsonl");
  if (!is_run_id(id) || !fs::exists(file))
    return report(app,
                  {ErrorCode::not_found, "there is no such run here", "--drop", "See: handback run --list"});
  const auto lock = run::RunLock::take(home.runs() / (id + ".lock"), record::utc_text(net::utc_now_s()));
  if (!lock) return report(app, lock.error());
  const auto ledger = ledger::Ledger::read(home.ledger());
  if (!ledger) return report(app, ledger.error());
  if (ledger->find(id))
    return report(app, {ErrorCode::refused, "this run is finished and in the ledger: it cannot be dropped",
                        "--drop", "See: handback ledger --help"});
  std::error_code ec;
  const auto kept = home.runs() / (id + ".dropped");
  fs::rename(file, kept, ec);
  if (ec)
    return report(app, {ErrorCode::io, "the run cannot be dropped: " + ec.message(), file.string(), ""});
  if (app.json)
    fmt::print("{}\n", json{{"dropped", id}, {"kept", kept.string()}}.dump(2));
  else
    fmt::print("Dropped: its job is free of it. What was measured lies in {}\n", kept.string());
  return kPass;
}

int run(const App& app, RunArgs args, const std::vector<std::string>& waivers) {
  auto waived = parse_waivers(waivers);
  if (!waived) return report(app, waived.error());
  args.waived = std::move(*waived);
  return run_async(app, [&app, args]() -> net::awaitable<int> {
    auto p = co_await perform(app, app.home(), args);
    if (!p) co_return report(app, p.error());
    show_end(app, *p);
    co_return p->code;
  });
}
}  // namespace

void add_run(CLI::App& cli, App& app, Action& action) {
  auto* sub = cli.add_subcommand("run", "run the checklist on a phone and write the signed sheet");
  auto args = std::make_shared<RunArgs>();
  auto waivers = std::make_shared<std::vector<std::string>>();
  auto kind = std::make_shared<std::string>(), other = std::make_shared<std::string>();
  auto retest = std::make_shared<std::vector<std::string>>();
  auto list = std::make_shared<bool>(false);
  auto dropped = std::make_shared<std::string>();
  sub->add_option("--device", args->device,
                  "tcp:HOST:PORT, usb, or, with several phones, usb:PORT as `handback phones` shows it");
  sub->add_option("--profile", args->profile,
                  "profile file (default: the known one that fits the phone; a resumed run has its own)");
  sub->add_option("--job", args->job,
                  "job number (default: the open job of this bench, if there is exactly one)");
  sub->add_option("--kind", *kind,
                  "intake (before the repair), release (before handing back; the default) or comeback")
      ->check(CLI::IsMember({"intake", "release", "comeback"}));
  sub->add_option("--fixture", args->fixture, "tcp:HOST:PORT of an automatic fixture in place of your hands");
  sub->add_option("--resume", args->resume, "run that was paused (see --list)");
  sub->add_option("--retest", *retest, "with --resume: take this check again")->needs("--resume");
  sub->add_option("--only", args->only,
                  "a new run of these checks alone; the job's last run gives the other results");
  sub->add_option(
      "--opened-again,--mended", args->opened,
      "what was opened or changed since the job's last run: a fail is replaced and results that this "
      "may have spoilt are taken again. " +
          record::words_of(record::opened_parts()));
  sub->add_option("--other-phone", *other,
                  "why this phone is not the one that the job has had: " +
                      record::words_of(record::other_phone_reasons()));
  sub->add_option(
      "--waive", *waivers,
      "CHECK:REASON, as the customer agreed at intake: " + record::words_of(record::waiver_reasons()));
  sub->add_flag("!--one-at-a-time", args->overlap, "no two checks at the same time");
  sub->add_flag("!--no-page", args->use_page, "use no browser on the phone (its checks are then not tested)");
  args->form.add_options(*sub);
  add_cure_hours(*sub, args->cure_hours);
  sub->add_option("--wait", args->wait_for_phone_s, "seconds to wait for a phone that went away")
      ->capture_default_str()
      ->check(CLI::Range(1, 86400));
  sub->add_flag("--list", *list, "list runs, then stop");
  sub->add_option("--drop", *dropped, "give up a paused run: its job is free of it");
  sub->callback([&app, &action, args, waivers, kind, retest, list, other, dropped] {
    if (*list) {
      action = [&app] { return list_runs(app); };
      return;
    }
    if (!dropped->empty()) {
      action = [&app, dropped] { return drop(app, *dropped); };
      return;
    }
    if (args->device.empty() && args->resume.empty()) throw CLI::RequiredError("--device");
    if (*kind == "intake") args->kind = record::RunKind::intake;
    if (*kind == "release") args->kind = record::RunKind::release;
    if (*kind == "comeback") args->kind = record::RunKind::comeback;
    if (!other->empty()) {
      args->other_phone = record::find_word(record::other_phone_reasons(), *other);
      if (args->other_phone == nullptr)
        throw CLI::ValidationError("--other-phone",
                                   "expected one of " + record::words_of(record::other_phone_reasons()));
    }
    args->retest = {retest->begin(), retest->end()};
    action = [&app, args, waivers] { return run(app, *args, *waivers); };
  });
}
}  // namespace hb::cli
