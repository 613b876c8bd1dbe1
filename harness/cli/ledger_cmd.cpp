#include <fmt/format.h>

#include "app.hpp"
#include "documents.hpp"
#include "harness/base/text.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;
/// About a million entries; an export is read into memory whole.
constexpr std::size_t kLargestExport = std::size_t{4} << 30;

int list(const App& app) {
  auto ledger = ledger::Ledger::read(app.home().ledger());
  if (!ledger) return report(app, ledger.error());
  auto out = json::array();
  auto r = ledger->each([&](const ledger::Entry& e) -> Result<void> {
    const bool job = e.kind == "job", run = e.kind == "run";
    const auto& about = e.content.at(e.kind);
    const auto id = about.value("id", std::string());
    std::string says;
    if (job) says = e.erased.empty() ? about.value("repair", "") : "(texts erased)";
    if (run)
      says = e.content.value("outcome", "") + "  " + e.content["job"].value("id", "") +
             (e.erased.empty() ? "" : "  (texts erased)");
    if (!job && !run) says = about.value("reason", "");
    if (app.json)
      out.push_back({{"seq", e.seq},
                     {"kind", e.kind},
                     {"created", e.created_utc},
                     {"id", id},
                     {"outcome", run ? e.content.value("outcome", "") : ""},
                     {"reason", job || run ? "" : about.value("reason", "")},
                     {"erased", !e.erased.empty()}});
    else
      fmt::print("{:>6}  {:<10} {}  {}  {}\n", e.seq, e.kind, e.created_utc, id, says);
    return {};
  });
  if (!r) return report(app, r.error());
  if (app.json) fmt::print("{}\n", out.dump(2));
  return kPass;
}

void show_audit(const ledger::Audit& a) {
  fmt::print("{} {} entries. {}\n", a.sound() ? "✓" : "✗", a.entries, a.says);
  for (const auto& d : a.derived) fmt::print("  {}\n", d);
  for (const auto& n : a.notes) fmt::print("  {}\n", n);
}

int repair(const App& app, const std::vector<std::string>& keys) {
  const Home home = app.home();
  if (auto there = ledger::Ledger::read(home.ledger()); !there) return report(app, there.error());
  auto key = bench_key(home);
  if (!key) return report(app, key.error());
  auto ring = ring_for(home, {keys, {}, {}, {}});
  if (!ring) return report(app, ring.error());
  auto ledger = ledger::Ledger::open(home.ledger(), *key);
  if (!ledger) return report(app, ledger.error());
  const auto found = ledger->repair(*ring);
  if (!found) return report(app, found.error());
  if (app.json) {
    fmt::print("{}\n", json{{"entries", found->entries}, {"mended", found->derived}}.dump(2));
  } else if (found->derived.empty()) {
    fmt::print("✓ {} entries. Nothing to mend: every row follows from them.\n", found->entries);
  } else {
    fmt::print("✓ {} entries, every one as it was written. Mended:\n", found->entries);
    for (const auto& d : found->derived) fmt::print("  {}\n", d);
  }
  return kPass;
}

int verify(const App& app, const std::vector<std::string>& keys, const std::string& kept) {
  auto ledger = ledger::Ledger::read(app.home().ledger());
  if (!ledger) return report(app, ledger.error());
  auto ring = ring_for(app.home(), {keys, {}, {}, {}});
  if (!ring) return report(app, ring.error());
  auto head = text_or_file(kept);
  if (!head) return report(app, head.error());
  auto a = ledger->verify(*ring, *head);
  if (!a) return report(app, a.error());
  if (app.json)
    fmt::print("{}\n", json{{"sound", a->sound()},
                            {"flaw", ledger::name(a->flaw).view()},
                            {"entries", a->entries},
                            {"first_bad", a->first_bad},
                            {"says", a->says},
                            {"derived", a->derived},
                            {"notes", a->notes}}
                           .dump(2));
  else
    show_audit(*a);
  return a->sound() ? kPass : kFail;
}

/// The signed text alone goes to standard output, so that it can be kept: handback ledger head > FILE.
int head(const App& app, std::int64_t size) {
  auto ledger = ledger::Ledger::read(app.home().ledger());
  if (!ledger) return report(app, ledger.error());
  auto h = size == 0 ? ledger->head() : ledger->head(size);
  if (!h) return report(app, h.error());
  if (h->size == 0)
    return report(app, Error{ErrorCode::not_found, "the ledger is empty: it has no head yet", "",
                             "Take a job in first."});
  const auto content = sign::peek(h->jws);
  if (!content) return report(app, content.error());
  if (app.json)
    fmt::print(
        "{}\n",
        json{{"size", h->size}, {"root", hex(h->root)}, {"at", content->value("at", "")}, {"head", h->jws}}
            .dump(2));
  else
    fmt::print("{}\n", h->jws);
  if (!app.json && !app.quiet)
    fmt::print(stderr,
               "{} entries, {}. Keep this outside the bench: `ledger verify --head` shows with it "
               "whether the past was changed.\n",
               h->size, content->value("at", ""));
  return kPass;
}

int export_all(const App& app, const std::string& out) {
  auto ledger = ledger::Ledger::read(app.home().ledger());
  if (!ledger) return report(app, ledger.error());
  auto j = ledger->export_json();
  if (!j) return report(app, j.error());
  if (out.empty()) {
    fmt::print("{}\n", j->dump(2));
    return kPass;
  }
  if (auto w = write_file(out, j->dump(2) + "\n"); !w) return report(app, w.error());
  const auto n = (*j)["entries"].size();
  if (app.json)
    fmt::print("{}\n", json{{"entries", n}, {"file", out}}.dump(2));
  else
    fmt::print("{} entries: {}\n", n, out);
  return kPass;
}

int import_all(const App& app, const std::string& file, const std::vector<std::string>& keys) {
  const Home home = app.home();
  auto text = read_file(file, kLargestExport);
  if (!text) return report(app, text.error());
  const auto j = json::parse(*text, nullptr, false);
  text->clear();
  if (j.is_discarded())
    return report(app, Error{ErrorCode::bad_format, "this is not JSON", file,
                             "Expected the output of `handback ledger export`."});
  if (auto r = home.prepare(); !r) return report(app, r.error());
  auto key = bench_key(home);
  if (!key) return report(app, key.error());
  auto ring = trusted_keys(home, keys);
  if (!ring) return report(app, ring.error());
  auto ledger = ledger::Ledger::open(home.ledger(), *key);
  if (!ledger) return report(app, ledger.error());
  const auto n = ledger->import_json(j, *ring);
  if (!n) return report(app, n.error());
  if (app.json)
    fmt::print("{}\n", json{{"entries", *n}}.dump(2));
  else
    fmt::print("✓ {} entries, every signature and hash checked.\n", *n);
  return kPass;
}
}  // namespace

void add_ledger(CLI::App& cli, App& app, Action& action) {
  auto* sub = cli.add_subcommand("ledger", "the append-only list of jobs and runs");
  sub->require_subcommand(1);
  auto keys = std::make_shared<std::vector<std::string>>();
  auto text = std::make_shared<std::string>();
  const auto trust = [keys](CLI::App* to) {
    to->add_option("--key", *keys, "public key (JWK file) or folder to trust, besides this bench's own");
  };
  sub->add_subcommand("list", "one line an entry")->callback([&] { action = [&app] { return list(app); }; });
  auto* v = sub->add_subcommand("verify", "recompute everything; name the first entry that is not as it was");
  trust(v);
  v->add_option(
      "--head", *text,
      "a signed head kept elsewhere (text or file): shows a ledger that was put back to an older state");
  v->footer("Exit codes: 0 sound, 1 not sound, 2 error.");
  v->callback(
      [&app, &action, keys, text] { action = [&app, keys, text] { return verify(app, *keys, *text); }; });

  auto* mend = sub->add_subcommand(
      "repair", "make anew what follows from the signed entries (index, tree) and is not as it should be");
  trust(mend);
  mend->footer(
      "No signed byte is changed. Exit codes: 0 all is well now, 2 error: what was signed was changed.");
  mend->callback([&app, &action, keys] { action = [&app, keys] { return repair(app, *keys); }; });

  auto size = std::make_shared<std::int64_t>(0);
  auto* h = sub->add_subcommand("head", "the signed size and root, to be kept elsewhere");
  h->add_option("--size", *size, "the head when the ledger had this many entries (default: now)")
      ->check(CLI::PositiveNumber);
  h->callback([&app, &action, size] { action = [&app, size] { return head(app, *size); }; });

  auto* e = sub->add_subcommand("export", "everything as JSON");
  e->add_option("--out", *text, "write to this file");
  e->callback([&app, &action, text] { action = [&app, text] { return export_all(app, *text); }; });

  auto* i = sub->add_subcommand("import", "take an export into a new or empty ledger, all of it or nothing");
  i->add_option("FILE", *text, "what `export` wrote")->required();
  trust(i);
  i->footer("Every entry and head is verified first; the first doubtful one is named and nothing is kept.");
  i->callback(
      [&app, &action, keys, text] { action = [&app, keys, text] { return import_all(app, *text, *keys); }; });
  add_ledger_proofs(*sub, app, action);
  add_ledger_withdraw(*sub, app, action);
}
}  // namespace hb::cli
