#include <fmt/format.h>

#include <algorithm>

#include "app.hpp"
#include "harness/run/journal.hpp"
#include "perform.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

/// Closed list: a waiver's reason goes onto the sheet.
struct Waiver {
  const char* first;
  Term second;
};
constexpr Waiver kWaivers[] = {
    {"customer-declined", "the customer did not want this test"},
    {"part-not-fitted", "the part is not fitted on the customer's wish"},
    {"known-before", "known and agreed before the repair"},
};

Result<std::map<std::string, Term>> parse_waivers(const std::vector<std::string>& texts) {
  std::map<std::string, Term> out;
  for (const auto& t : texts) {
    const auto colon = t.find(':');
    const auto* w = std::find_if(std::begin(kWaivers), std::end(kWaivers), [&](const auto& x) {
      return colon != std::string::npos && t.substr(colon + 1) == x.first;
    });
    if (w == std::end(kWaivers))
      return Error{
          ErrorCode::invalid_argument, "this is no waiver", "--waive",
          "Expected CHECK:REASON with REASON one of customer-declined, part-not-fitted, known-before."};
    out[t.substr(0, colon)] = w->second;
  }
  return out;
}

int list_runs(const App& app) {
  auto out = json::array();
  std::error_code ec;
  std::vector<fs::path> files;
  for (fs::directory_iterator it(app.home().runs(), ec), end; !ec && it != end; it.increment(ec))
    if (it->path().extension() == ".jsonl") files.push_back(it->path());
  std::sort(files.begin(), files.end());
  for (const auto& f : files) {
    const auto c = run::Journal::read(f);
    if (!c) continue;
    const bool finished = fs::exists(app.home().sheets() / f.stem() / "record.jws");
    out.push_back({{"run", f.stem().string()},
                   {"job", c->header.value("job", "")},
                   {"started", c->header.value("started", "")},
                   {"model", c->header.value("model", "")},
                   {"checks_done", c->entries.size()},
                   {"finished", finished}});
    if (!app.json)
      fmt::print("{}  {}  {}  {}  {} checks measured  {}\n", f.stem().string(), c->header.value("job", ""),
                 c->header.value("started", ""), c->header.value("model", ""), c->entries.size(),
                 finished ? "finished" : "can be resumed");
  }
  if (app.json)
    fmt::print("{}\n", out.dump(2));
  else if (out.empty())
    fmt::print("No runs yet.\n");
  return kPass;
}

int run(const App& app, RunArgs args, const std::vector<std::string>& waivers) {
  auto waived = parse_waivers(waivers);
  if (!waived) return report(app, waived.error());
  args.waived = std::move(*waived);
  return run_async([&app, args]() -> net::awaitable<int> {
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
  auto kind = std::make_shared<std::string>("release");
  auto retest = std::make_shared<std::vector<std::string>>();
  auto list = std::make_shared<bool>(false);
  auto* device = sub->add_option("--device", args->device, "tcp:HOST:PORT, usb, or usb:SERIAL");
  sub->add_option("--profile", args->profile, "profile file (default: the known one that fits the phone)");
  sub->add_option("--job", args->job, "job number (default: the newest job that has no passed release run)");
  sub->add_option("--kind", *kind, "intake (before the repair), release (before handing back) or comeback")
      ->check(CLI::IsMember({"intake", "release", "comeback"}))
      ->capture_default_str();
  sub->add_option("--fixture", args->fixture, "tcp:HOST:PORT of an automatic fixture in place of your hands");
  sub->add_option("--resume", args->resume, "run that was paused (see --list)");
  sub->add_option("--retest", *retest, "with --resume: take this check again")->needs("--resume");
  sub->add_option("--waive", *waivers,
                  "CHECK:REASON, agreed with the customer: customer-declined, part-not-fitted, known-before");
  sub->add_flag("!--one-at-a-time", args->overlap, "no two checks at the same time");
  sub->add_flag("!--no-page", args->use_page, "use no browser on the phone (its checks are then not tested)");
  args->form.add_options(*sub);
  add_cure_hours(*sub, args->cure_hours);
  sub->add_option("--wait", args->wait_for_phone_s, "seconds to wait for a phone that went away")
      ->capture_default_str()
      ->check(CLI::Range(1, 86400));
  sub->add_flag("--list", *list, "list runs, then stop");
  sub->callback([&app, &action, args, waivers, kind, retest, list, device] {
    if (*list) {
      action = [&app] { return list_runs(app); };
      return;
    }
    if (device->count() == 0) throw CLI::RequiredError("--device");
    args->kind = *kind == "intake"     ? record::RunKind::intake
                 : *kind == "comeback" ? record::RunKind::comeback
                                       : record::RunKind::release;
    args->retest = {retest->begin(), retest->end()};
    action = [&app, args, waivers] { return run(app, *args, *waivers); };
  });
}
}  // namespace hb::cli
