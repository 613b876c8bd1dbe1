#include <fmt/format.h>

#include "app.hpp"
#include "documents.hpp"
#include "job_words.hpp"
#include "perform.hpp"
#include "reports/record/utc.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

struct IntakeArgs {
  JobWords words;
  std::string comeback_of, opened;
  std::vector<std::string> waivers;
  bool consent = false;
  std::optional<double> cure_hours;
};

Result<record::Job> from_args(const IntakeArgs& a) {
  record::Job j;
  if (auto r = a.words.into(j); !r) return std::move(r).error();
  j.consent_tests = a.consent;
  j.cure_hours = a.cure_hours;
  j.comeback_of = a.comeback_of;
  j.opened_utc = a.opened;
  const auto opened = record::utc_seconds(a.opened);
  if (!a.opened.empty() && !opened)
    return Error{ErrorCode::invalid_argument, "this is no time", "--opened",
                 "Write it like 2026-11-25T09:30:00Z (UTC)."};
  if (opened && *opened > net::utc_now_s())
    return Error{
        ErrorCode::invalid_argument,
        fmt::format("a job cannot be taken in later than now, {}", record::utc_text(net::utc_now_s())),
        "--opened", "Give the time in UTC; if the computer's clock is wrong, set it right first."};
  const auto waivers = parse_waivers(a.waivers);
  if (!waivers) return waivers.error();
  for (const auto& [check, word] : *waivers) j.waivers.push_back({check, word->id});
  return j;
}

int intake(const App& app, const IntakeArgs& args) {
  if (args.words.list) return show_catalogue(app, *args.words.list);
  const Home home = app.home();
  if (auto r = home.prepare(); !r) return report(app, r.error());
  auto job = from_args(args);
  if (!job) return report(app, job.error());
  auto key = bench_key(home);
  if (!key) return report(app, key.error());
  auto ledger = ledger::Ledger::open(home.ledger(), *key);
  if (!ledger) return report(app, ledger.error());
  auto opened = ledger->open_job(std::move(*job));
  if (!opened) return report(app, opened.error());
  if (app.json) {
    fmt::print("{}\n", json{{"job", opened->id},
                            {"opened", opened->opened_utc},
                            {"consent", opened->consent_tests},
                            {"comeback_of", opened->comeback_of}}
                           .dump(2));
    return kPass;
  }
  fmt::print("Job {} is open.\n", opened->id);
  if (!opened->consent_tests)
    fmt::print(
        "The owner's consent to the tests is not noted: a run will refuse to start. Ask, and take it in with "
        "--consent.\n");
  const std::string kind = opened->comeback_of.empty() ? "intake" : "comeback";
  const auto bench = where_options(app);
  fmt::print(
      "If the phone still boots, measure it as it came in:\n  handback run{} --kind {} --job {} --device "
      "usb\nAfter the repair:\n  handback run{} --job {} --device usb\n",
      bench, kind, opened->id, bench, opened->id);
  return kPass;
}
}  // namespace

void add_intake(CLI::App& cli, App& app, Action& action) {
  auto* sub =
      cli.add_subcommand("intake", "take a job in: fault, parts to be fitted, colour agreed, consent");
  auto a = std::make_shared<IntakeArgs>();
  a->words.add_options(*sub);
  sub->add_option("--comeback-of", a->comeback_of, "earlier job that this phone comes back from");
  sub->add_option("--opened", a->opened, "when it was taken in, if not now (2026-11-25T09:00:00Z)");
  sub->add_option("--waive", a->waivers,
                  "CHECK:REASON, a test that the customer agrees to leave out; repeat for more. " +
                      record::words_of(record::waiver_reasons()));
  add_cure_hours(*sub, a->cure_hours);
  sub->add_flag("--consent", a->consent, "the owner agreed to the tests listed on the consent form");
  sub->callback([&app, &action, a] { action = [&app, a] { return intake(app, *a); }; });
}
}  // namespace hb::cli
