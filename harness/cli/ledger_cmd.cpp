#include <fmt/format.h>

#include "app.hpp"
#include "documents.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

int list(const App& app) {
  auto ledger = ledger::Ledger::read(app.home().ledger());
  if (!ledger) return report(app, ledger.error());
  auto out = json::array();
  auto r = ledger->each([&](const ledger::Entry& e) -> Result<void> {
    const bool job = e.kind == "job";
    const auto id = job ? e.content["job"].value("id", "") : e.content["run"].value("id", "");
    if (app.json)
      out.push_back({{"seq", e.seq},
                     {"kind", e.kind},
                     {"created", e.created_utc},
                     {"id", id},
                     {"outcome", job ? "" : e.content.value("outcome", "")}});
    else
      fmt::print("{:>6}  {:<4} {}  {}  {}\n", e.seq, e.kind, e.created_utc, id,
                 job ? e.content["job"].value("repair", "")
                     : e.content.value("outcome", "") + "  " + e.content["job"].value("id", ""));
    return {};
  });
  if (!r) return report(app, r.error());
  if (app.json) fmt::print("{}\n", out.dump(2));
  return kPass;
}

int verify(const App& app, const std::vector<std::string>& keys, const std::string& head) {
  auto ledger = ledger::Ledger::read(app.home().ledger());
  if (!ledger) return report(app, ledger.error());
  auto ring = trusted_keys(app.home(), keys);
  if (!ring) return report(app, ring.error());
  auto a = ledger->verify(*ring, head);
  if (!a) return report(app, a.error());
  if (app.json)
    fmt::print("{}\n", json{{"sound", a->sound()},
                            {"flaw", ledger::name(a->flaw).view()},
                            {"entries", a->entries},
                            {"first_bad", a->first_bad},
                            {"says", a->says}}
                           .dump(2));
  else
    fmt::print("{} {} entries. {}\n", a->sound() ? "✓" : "✗", a->entries, a->says);
  return a->sound() ? kPass : kFail;
}

int export_all(const App& app) {
  auto ledger = ledger::Ledger::read(app.home().ledger());
  if (!ledger) return report(app, ledger.error());
  auto j = ledger->export_json();
  if (!j) return report(app, j.error());
  fmt::print("{}\n", j->dump(2));
  return kPass;
}
}  // namespace

void add_ledger(CLI::App& cli, App& app, Action& action) {
  auto* sub = cli.add_subcommand("ledger", "the append-only list of jobs and runs");
  sub->require_subcommand(1);
  auto keys = std::make_shared<std::vector<std::string>>();
  auto head = std::make_shared<std::string>();
  sub->add_subcommand("list", "one line an entry")->callback([&] { action = [&app] { return list(app); }; });
  auto* v = sub->add_subcommand("verify", "recompute everything; name the first entry that is not as it was");
  v->add_option("--key", *keys, "public key (JWK file) or folder to trust, besides this bench's own");
  v->add_option("--head", *head,
                "a signed head kept elsewhere: shows a ledger that was put back to an older state");
  v->callback(
      [&app, &action, keys, head] { action = [&app, keys, head] { return verify(app, *keys, *head); }; });
  sub->add_subcommand("export", "everything as JSON")->callback([&] {
    action = [&app] { return export_all(app); };
  });
}
}  // namespace hb::cli
