#include <fmt/chrono.h>
#include <fmt/format.h>

#include <cstdio>

#include "app.hpp"
#include "documents.hpp"
#include "reports/comebacks/comebacks.hpp"

namespace hb::cli {
namespace {

std::string now_utc() {
  return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(static_cast<std::time_t>(net::utc_now_s())));
}

int audit(const App& app, const std::string& by, const std::string& part, std::string as_of, bool csv) {
  if (as_of.size() == 10) as_of += "T23:59:59Z";
  if (as_of.empty()) as_of = now_utc();
  auto ledger = ledger::Ledger::read(app.home().ledger());
  if (!ledger) return report(app, ledger.error());
  auto study = comebacks::collect(*ledger, as_of);
  if (!study) return report(app, study.error());
  const auto kind = by == "model"    ? comebacks::By::model
                    : by == "repair" ? comebacks::By::repair
                                     : comebacks::By::lot;
  const auto comparison = comebacks::compare(*study, kind, part);
  const auto signs = comebacks::signs(*study);
  if (csv)
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
  auto by = std::make_shared<std::string>("lot"), part = std::make_shared<std::string>(),
       as_of = std::make_shared<std::string>();
  auto csv = std::make_shared<bool>(false);
  sub->add_option("--by", *by, "what is compared: lot, model or repair")
      ->check(CLI::IsMember({"lot", "model", "repair"}))
      ->capture_default_str();
  sub->add_option("--part", *part, "whose lots (default: the part that most jobs have)");
  sub->add_option("--as-of", *as_of, "end of observation, 2026-11-25 or with a time (default: now)");
  sub->add_flag("--csv", *csv, "group,time,event for another statistics program");
  sub->callback([&app, &action, by, part, as_of, csv] {
    action = [&app, by, part, as_of, csv] { return audit(app, *by, *part, *as_of, *csv); };
  });
}
}  // namespace hb::cli
