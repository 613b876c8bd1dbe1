#include <fmt/format.h>

#include "app.hpp"
#include "documents.hpp"
#include "job_words.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

struct IntakeArgs {
  JobWords words;
  std::string comeback_of, opened;
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
  fmt::print(
      "If the phone still boots, measure it as it came in:\n  handback run --kind {} --job {} --device "
      "usb\nAfter the repair:\n  handback run --job {} --device usb\n",
      kind, opened->id, opened->id);
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
  add_cure_hours(*sub, a->cure_hours);
  sub->add_flag("--consent", a->consent, "the owner agreed to the tests listed on the consent form");
  sub->callback([&app, &action, a] { action = [&app, a] { return intake(app, *a); }; });
}
}  // namespace hb::cli
