// handback bench root: the shop's root key, which vouches for the keys of the benches.
#include <fmt/format.h>

#include <algorithm>

#include "app.hpp"
#include "documents.hpp"
#include "harness/net/clock.hpp"
#include "reports/record/utc.hpp"
#include "revocations.hpp"
#include "root.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;
using sign::Certificate;

struct RootArgs {
  std::string root_key, file, label, out, from, kid, since, reason = "stolen";
  std::vector<std::string> lists;
  int days = 730;
  bool protect = false, stolen = false;
};

fs::path root_file(const Home& home, const RootArgs& a) {
  return a.root_key.empty() ? home.root_key() : fs::path(a.root_key);
}

Result<std::int64_t> time_or_now(const std::string& text, const char* option) {
  if (text.empty()) return net::utc_now_s();
  auto s = record::utc_seconds(text);
  if (!s)
    return Error{ErrorCode::invalid_argument, "this is no time", option,
                 "Write it like 2026-11-25T09:30:00Z."};
  return s;
}

std::string with_key_option(const RootArgs& a) {
  return a.root_key.empty() ? std::string() : " --root-key " + a.root_key;
}

int create(const App& app, const RootArgs& a) {
  const Home home = app.home();
  if (auto r = home.prepare(); !r) return report(app, r.error());
  const auto file = root_file(home, a);
  std::error_code ec;
  if (fs::exists(file, ec))
    return report(app,
                  {ErrorCode::refused, "there is a root's key already, and it stays as it is", file.string(),
                   a.protect ? "Put a passphrase on it: handback bench root protect" + with_key_option(a)
                             : "Change it for a new one: handback bench root rotate" + with_key_option(a)});
  const auto key = sign::SigningKey::make();
  if (auto r = save_key(home, key, file, a.protect); !r) return report(app, r.error());
  const auto pub = home.roots() / (key.key_id() + ".jwk");
  const auto list = write_merged_list(home, key, file, {});  // first: a root without its list is not believed
  if (!list) return report(app, list.error());
  if (auto w = write_file(pub, key.public_key().jwk()); !w) return report(app, w.error());
  if (app.json)
    fmt::print("{}\n", json{{"key_id", key.key_id()},
                            {"private", file.string()},
                            {"public", pub.string()},
                            {"list", list->file.string()}}
                           .dump(2));
  else
    fmt::print(
        "The shop's root {} is made.\nPrivate key: {}\n  Copy it to two places that are not this computer. "
        "It is needed only to certify and to revoke.\nPublic key: {}\n  Publish it: it is all that a "
        "customer needs to check a sheet.\nRevocation list (empty): {}\n  Each bench takes it in beside the "
        "public key: handback bench root accept FILE\nNext: handback bench root certify\n",
        key.key_id(), file.string(), pub.string(), list->file.string());
  return kPass;
}

int protect(const App& app, const RootArgs& a, bool on) {
  const Home home = app.home();
  const auto file = root_file(home, a);
  const auto key = home.keys().open(file);
  if (!key) return report(app, key.error());
  if (auto r = replace_key(home, *key, file, on); !r) return report(app, r.error());
  if (app.json)
    fmt::print("{}\n", json{{"key_id", key->key_id()}, {"protected", on}}.dump(2));
  else
    fmt::print("{}",
               on ? "The root's key is protected by the passphrase. A copy of the unprotected file may still "
                    "be in backups and on the disk's free blocks.\n"
                  : "The root's key is no longer protected by a passphrase.\n");
  return kPass;
}

/// Every list of this root that is known, as one.
int merge(const App& app, const RootArgs& a) {
  const Home home = app.home();
  if (auto r = home.prepare(); !r) return report(app, r.error());
  const auto root = home.keys().open(root_file(home, a));
  if (!root) return report(app, root.error());
  const auto list = write_merged_list(home, *root, root_file(home, a), {}, a.lists);
  if (!list) return report(app, list.error());
  auto keys = json::array();
  for (const auto& e : list->revoked)
    keys.push_back({{"key_id", e.kid}, {"since", record::utc_text(e.since_s)}, {"reason", e.reason}});
  if (app.json) {
    fmt::print("{}\n", json{{"root", root->key_id()},
                            {"number", list->number},
                            {"revoked", keys},
                            {"list", list->file.string()},
                            {"beside_root_key", list->beside.string()}}
                           .dump(2));
    return kPass;
  }
  fmt::print("Revocation list {} of root {}:\n", list->number, root->key_id());
  for (const auto& e : list->revoked)
    fmt::print("  {}  {} since {}\n", e.kid, e.reason, record::utc_text(e.since_s));
  if (list->revoked.empty()) fmt::print("  no key is revoked\n");
  fmt::print(
      "List: {}\n  and beside the root's key: {}\n  Publish it, and on every bench: handback bench root "
      "accept FILE\n",
      list->file.string(), list->beside.string());
  return kPass;
}

int show(const App& app) {
  const Home home = app.home();
  const auto v = gather_trust(home, {});
  if (!v) return report(app, v.error());
  json out = {{"roots", json::array()}, {"certificates", json::array()}, {"revoked", json::array()}};
  for (const auto& root : v->roots) {
    out["roots"].push_back({{"key_id", root.thumbprint()}, {"jwk", json::parse(root.jwk())}});
    for (const auto& t : v->certificates)
      if (const auto c = sign::read_certificate(t, root))
        out["certificates"].push_back({{"key_id", c->key.thumbprint()},
                                       {"kind", c->kind == Certificate::Kind::bench ? "bench" : "root"},
                                       {"label", c->label},
                                       {"serial", c->serial},
                                       {"root", c->issuer},
                                       {"from", record::utc_text(c->from_s)},
                                       {"until", record::utc_text(c->until_s)}});
    for (const auto& t : v->lists)
      if (const auto l = sign::read_revocation_list(t, root))
        for (const auto& e : l->revoked)
          out["revoked"].push_back({{"key_id", e.kid},
                                    {"since", record::utc_text(e.since_s)},
                                    {"reason", e.reason},
                                    {"root", l->issuer}});
  }
  if (app.json) {
    fmt::print("{}\n", out.dump(2));
    return kPass;
  }
  if (v->roots.empty()) fmt::print("No root: this bench's own key is what others have to trust.\n");
  const auto s = [](const json& j, const char* k) { return j.value(k, std::string()); };
  for (const auto& r : out["roots"]) fmt::print("Root         {}\n", s(r, "key_id"));
  for (const auto& c : out["certificates"])
    fmt::print("Certificate  {}  {} '{}'  {} to {}\n", s(c, "key_id"), s(c, "kind"), s(c, "label"),
               s(c, "from"), s(c, "until"));
  for (const auto& e : out["revoked"])
    fmt::print("Revoked      {}  {} since {}\n", s(e, "key_id"), s(e, "reason"), s(e, "since"));
  return kPass;
}

int certify(const App& app, const RootArgs& a) {
  const Home home = app.home();
  if (auto r = home.prepare(); !r) return report(app, r.error());
  Result<sign::PublicKey> subject = Error{};
  if (a.file.empty()) {
    const auto own = bench_key(home);
    subject = own ? Result<sign::PublicKey>(own->public_key()) : Result<sign::PublicKey>(own.error());
  } else {
    subject = read_public_key(a.file);
  }
  if (!subject) return report(app, subject.error());
  auto label = ShopText::screened(a.label, "--label", 80);
  if (a.label.empty() && a.file.empty())
    if (const auto bench = home.bench()) label = bench->name;
  if (!label) return report(app, label.error());
  const auto from = time_or_now(a.from, "--from");
  if (!from) return report(app, from.error());
  const auto root = home.keys().open(root_file(home, a));
  if (!root) return report(app, root.error());
  const auto made = issue_bench_certificate(home, *root, *subject, label->str(), *from, a.days);
  if (!made) return report(app, made.error());
  if (!a.out.empty())
    if (auto w = write_file(a.out, made->jwt + "\n"); !w) return report(app, w.error());
  const auto where = a.out.empty() ? made->file.string() : a.out;
  if (app.json)
    fmt::print("{}\n", json{{"key_id", subject->thumbprint()},
                            {"root", root->key_id()},
                            {"label", label->str()},
                            {"serial", made->serial},
                            {"from", record::utc_text(made->from_s)},
                            {"until", record::utc_text(made->until_s)},
                            {"certificate", where}}
                           .dump(2));
  else
    fmt::print("Key {} ('{}') is certified for runs from {} to {}.\nCertificate: {}\n", subject->thumbprint(),
               label->str(), record::utc_text(made->from_s), record::utc_text(made->until_s), where);
  return kPass;
}

int revoke(const App& app, const RootArgs& a) {
  const Home home = app.home();
  if (auto r = home.prepare(); !r) return report(app, r.error());
  const auto id = from_base64url(a.kid);
  if (!id || id->size() != 32)
    return report(app, {ErrorCode::invalid_argument, "this is no key id", "KEY_ID",
                        "Take the 43 characters from: handback bench root show"});
  const auto since = time_or_now(a.since, "--since");
  if (!since) return report(app, since.error());
  const auto root = home.keys().open(root_file(home, a));
  if (!root) return report(app, root.error());
  if (root->key_id() == a.kid)
    return report(app, {ErrorCode::refused, "a root cannot revoke itself", "KEY_ID",
                        "Change it for a new one: handback bench root rotate --stolen"});
  const auto list = write_merged_list(home, *root, root_file(home, a), {{a.kid, *since, a.reason}});
  if (!list) return report(app, list.error());
  const auto entry =
      std::find_if(list->revoked.begin(), list->revoked.end(), [&](const auto& e) { return e.kid == a.kid; });
  const auto counts = record::utc_text(entry->since_s);
  if (app.json)
    fmt::print("{}\n", json{{"key_id", a.kid},
                            {"since", counts},
                            {"reason", entry->reason},
                            {"number", list->number},
                            {"list", list->file.string()},
                            {"beside_root_key", list->beside.string()}}
                           .dump(2));
  else
    fmt::print(
        "Key {} is revoked ({}) since {}.\nList: {}\n  Publish it, and copy it to every bench: handback "
        "bench root accept FILE\nSheets of runs finished before stay authentic. A thief can write an "
        "earlier date: what the ledger does not hold is not yours.\n",
        a.kid, entry->reason, counts, list->file.string());
  if (!app.json && counts != record::utc_text(*since))
    fmt::print("It was revoked before, from an earlier time on: that one counts.\n");
  return kPass;
}

int rotate(const App& app, const RootArgs& a) {
  const Home home = app.home();
  if (auto r = home.prepare(); !r) return report(app, r.error());
  const auto since = time_or_now(a.since, "--since");
  if (!since) return report(app, since.error());
  const auto file = root_file(home, a);
  const auto old = home.keys().open(file);
  if (!old) return report(app, old.error());
  const auto changed = change_root(home, *old, file, a.protect || is_protected_file(file),
                                   a.stolen ? std::optional(*since) : std::nullopt);
  if (!changed) return report(app, changed.error());
  if (app.json)
    fmt::print("{}\n", json{{"key_id", changed->key_id},
                            {"old", old->key_id()},
                            {"public", changed->public_file.string()},
                            {"old_private", changed->retired.string()},
                            {"certified_again", changed->certified}}
                           .dump(2));
  else
    fmt::print(
        "The shop's root is now {}. {} keys are certified again.\nPublic key to publish: {}\nThe old private "
        "key lies in {}: delete it when your backups are in order.\n{}",
        changed->key_id, changed->certified, changed->public_file.string(), changed->retired.string(),
        a.stolen ? "The old root is revoked and confirms nothing new: customers need the new public key.\n"
                 : "Old and new confirm each other: sheets can be checked with either.\n");
  return kPass;
}

int accept(const App& app, const RootArgs& a) {
  const Home home = app.home();
  if (auto r = home.prepare(); !r) return report(app, r.error());
  const auto taken = accept_file(home, a.file);
  if (!taken) return report(app, taken.error());
  if (app.json)
    fmt::print("{}\n", json{{"accepted", *taken}}.dump(2));
  else
    fmt::print("Accepted: {}\n", fmt::join(*taken, ", "));
  return kPass;
}
}  // namespace

void add_bench_root(CLI::App& bench, App& app, Action& action) {
  auto* root = bench.add_subcommand("root", "the shop's root: one key that vouches for the benches' keys");
  root->require_subcommand(1);
  auto a = std::make_shared<RootArgs>();
  const auto verb = [&, a](const char* name, const char* help, int (*act)(const App&, const RootArgs&)) {
    auto* sub = root->add_subcommand(name, help);
    sub->callback([&app, &action, a, act] { action = [&app, a, act] { return act(app, *a); }; });
    return sub;
  };
  const auto with_key = [a](CLI::App* sub) {
    sub->add_option("--root-key", a->root_key, "private key of the root (default: keys/root.jwk)")
        ->type_name("FILE");
    return sub;
  };
  auto* c = with_key(verb("create", "make the root's key", create));
  c->add_flag("--protect", a->protect, "protect it with a passphrase");
  with_key(verb("protect", "put a passphrase on the root's key, or a new one",
                [](const App& x, const RootArgs& r) { return protect(x, r, true); }));
  with_key(verb("unprotect", "take the passphrase off",
                [](const App& x, const RootArgs& r) { return protect(x, r, false); }));
  auto* m = with_key(
      verb("merge", "sign one revocation list of all that are known, and mend a damaged one", merge));
  m->add_option("LIST", a->lists, "lists of other benches");
  verb("show", "roots, certificates and revoked keys that this bench knows",
       [](const App& x, const RootArgs&) { return show(x); });
  auto* y = with_key(verb("certify", "vouch for a bench's key", certify));
  y->add_option("BENCH_PUBLIC", a->file, "public key of the bench (default: this bench's own)");
  y->add_option("--label", a->label, "name of the bench");
  y->add_option("--from", a->from, "runs finished from this time on (default: now)");
  y->add_option("--days", a->days, "and for so many days")
      ->check(CLI::Range(1, 36500))
      ->capture_default_str();
  y->add_option("--out", a->out, "write the certificate here too")->type_name("FILE");
  auto* k = with_key(verb("revoke", "end the word of a bench's key", revoke));
  k->add_option("KEY_ID", a->kid, "its id (handback bench root show)")->required();
  k->add_option("--since", a->since, "from this time on (default: now)");
  k->add_option("--reason", a->reason, "stolen, lost or retired")
      ->check(CLI::IsMember({"stolen", "lost", "retired"}))
      ->capture_default_str();
  auto* t = with_key(verb("rotate", "change the root for a new one", rotate));
  t->add_flag("--stolen", a->stolen, "the old one is in wrong hands: it shall confirm nothing");
  t->add_option("--since", a->since, "with --stolen: since when (default: now)");
  t->add_flag("--protect", a->protect, "protect the new one with a passphrase");
  auto* e =
      verb("accept", "take a root's public key, a certificate or a revocation list into this bench", accept);
  e->add_option("FILE", a->file, "as the root's computer wrote it")->required();
}
}  // namespace hb::cli
