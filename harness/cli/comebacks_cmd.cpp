#include <fmt/chrono.h>
#include <fmt/format.h>

#include <cstdio>

#include "app.hpp"
#include "documents.hpp"
#include "harness/net/clock.hpp"
#include "reports/comebacks/comebacks.hpp"

namespace hb::cli {
namespace {

std::string now_utc() {
  return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(static_cast<std::time_t>(net::utc_now_s())));
}

struct ComebackArgs {
  std::string by = "lot", part, as_of;
  bool csv = false, unverified = false;
  std::vector<std::string> keys;
};

int audit(const App& app, const ComebackArgs& args) {
  std::string as_of = args.as_of;
  if (as_of.size() == 10) as_of += "T23:59:59Z";
  if (as_of.empty()) as_of = now_utc();
  auto ledger = ledger::Ledger::read(app.home().ledger());
  if (!ledger) return report(app, ledger.error());
  auto ring = trusted_keys(app.home(), args.keys);
  if (!ring) return report(app, ring.error());
  auto study = args.unverified ? comebacks::collect_unverified(*ledger, as_of)
                               : comebacks::collect(*ledger, as_of, *ring);
  if (!study) {
    const auto code = study.error().code;
    const int exit = report(app, study.error());
    return code == ErrorCode::altered || code == ErrorCode::unknown_key ? kFail : exit;
  }
  if (args.unverified) fmt::print(stderr, "The ledger was not verified, because --unverified was given.\n");
  const auto kind = args.by == "model"    ? comebacks::By::model
                    : args.by == "repair" ? comebacks::By::repair
                                          : comebacks::By::lot;
  const auto comparison = comebacks::compare(*study, kind, args.part);
  const auto signs = comebacks::signs(*study);
  if (args.csv)
    fmt::print("{}", comebacks::to_csv(comparison));
  else if (app.json)
    fmt::print("{}\n", comebacks::to_json(*study, comparison, signs).dump(2));
  else
    fmt::print("{}", comebacks::render(*study, comparison, signs));
  return kPass;
}
}  // namespace

void add_comebacks(CLI::App& cli, App& app, Action& action) {
  auto* sub = cli.add_subcommand("comebacks", "which repairs come back, after how long, from which part lot");
  auto a = std::make_shared<ComebackArgs>();
  sub->add_option("--by", a->by, "what is compared: lot, model or repair")
      ->check(CLI::IsMember({"lot", "model", "repair"}))
      ->capture_default_str();
  sub->add_option("--part", a->part, "whose lots (default: the part that most jobs have)");
  sub->add_option("--as-of", a->as_of, "end of observation, 2026-11-25 or with a time (default: now)");
  sub->add_flag("--csv", a->csv, "group,time,event for another statistics program");
  sub->add_option("--key", a->keys, "public key (JWK file) or folder to trust, besides this bench's own");
  sub->add_flag("--unverified", a->unverified, "count without checking the ledger first; the result says so");
  sub->footer(
      "The ledger is verified first. Exit codes: 0 done, 1 an entry is not as it was written, 2 error.");
  sub->callback([&app, &action, a] { action = [&app, a] { return audit(app, *a); }; });
}
}  // namespace hb::cli
